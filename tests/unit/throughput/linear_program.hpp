// The transportation problem as a linear program for GLPK, a solver of other people's making.
#pragma once

#include <glpk.h>

#include <optional>

#include "server/dispatch/transport_problem.hpp"

namespace tagline::test {

/// Least total cost by the simplex method, or nothing if there is no way.
inline std::optional<double> glpk_least_cost(const dispatch::TransportProblem& problem) {
  const auto from = static_cast<int>(problem.supply.size());
  const auto to = static_cast<int>(problem.demand.size());
  glp_prob* lp = glp_create_prob();
  glp_set_obj_dir(lp, GLP_MIN);
  glp_add_rows(lp, from + to);
  for (int i = 0; i < from; ++i) {
    const auto sum = static_cast<double>(problem.supply[static_cast<std::size_t>(i)]);
    glp_set_row_bnds(lp, i + 1, GLP_FX, sum, sum);
  }
  for (int j = 0; j < to; ++j) {
    const auto sum = static_cast<double>(problem.demand[static_cast<std::size_t>(j)]);
    glp_set_row_bnds(lp, from + j + 1, GLP_FX, sum, sum);
  }
  for (int i = 0; i < from; ++i) {
    for (int j = 0; j < to; ++j) {
      const auto& cost = problem.cost[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
      if (!cost) continue;
      const int column = glp_add_cols(lp, 1);
      glp_set_col_bnds(lp, column, GLP_LO, 0, 0);
      glp_set_obj_coef(lp, column, static_cast<double>(*cost));
      const int rows[] = {0, i + 1, from + j + 1};
      const double ones[] = {0, 1, 1};
      glp_set_mat_col(lp, column, 2, rows, ones);
    }
  }
  glp_smcp options;
  glp_init_smcp(&options);
  options.msg_lev = GLP_MSG_OFF;
  const bool solved = glp_simplex(lp, &options) == 0 && glp_get_status(lp) == GLP_OPT;
  const double cost = glp_get_obj_val(lp);
  glp_delete_prob(lp);
  return solved ? std::optional<double>{cost} : std::nullopt;
}

}  // namespace tagline::test
