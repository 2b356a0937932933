// See linear_program.hpp.
#include "tests/optimum/linear_program.hpp"

#include <glpk.h>

#include <memory>
#include <stdexcept>

namespace tagline::test {

ProgramSolution solve(const LinearProgram& program, double seconds) {
  const std::unique_ptr<glp_prob, void (*)(glp_prob*)> owner{glp_create_prob(), glp_delete_prob};
  glp_prob* lp = owner.get();
  glp_set_obj_dir(lp, GLP_MIN);
  glp_add_cols(lp, static_cast<int>(program.columns.size()));
  glp_add_rows(lp, static_cast<int>(program.rows.size()));
  for (std::size_t c = 0; c < program.columns.size(); ++c) {
    const int column = static_cast<int>(c) + 1;
    glp_set_obj_coef(lp, column, program.columns[c].cost);
    if (program.columns[c].binary) {
      glp_set_col_kind(lp, column, GLP_BV);
    } else {
      glp_set_col_bnds(lp, column, GLP_LO, 0, 0);
    }
  }
  for (std::size_t r = 0; r < program.rows.size(); ++r) {
    const LinearProgram::Row& row = program.rows[r];
    int kind = GLP_FR;
    if (row.least && row.most) {
      kind = *row.least == *row.most ? GLP_FX : GLP_DB;
    } else if (row.least) {
      kind = GLP_LO;
    } else if (row.most) {
      kind = GLP_UP;
    }
    glp_set_row_bnds(lp, static_cast<int>(r) + 1, kind, row.least.value_or(0),
                     row.most.value_or(0));
    std::vector<int> at{0};
    std::vector<double> factors{0};
    for (const auto& [column, factor] : row.terms) {
      at.push_back(static_cast<int>(column) + 1);
      factors.push_back(factor);
    }
    glp_set_mat_row(lp, static_cast<int>(r) + 1, static_cast<int>(row.terms.size()), at.data(),
                    factors.data());
  }
  glp_term_out(GLP_OFF);
  glp_smcp simplex;
  glp_init_smcp(&simplex);
  simplex.msg_lev = GLP_MSG_OFF;
  if (glp_simplex(lp, &simplex) != 0) throw std::runtime_error("GLPK: the simplex method failed");
  ProgramSolution result;
  if (glp_get_status(lp) != GLP_OPT) {
    result.complete = true;
    return result;
  }
  glp_iocp options;
  glp_init_iocp(&options);
  options.msg_lev = GLP_MSG_OFF;
  options.mir_cuts = GLP_ON;
  options.clq_cuts = GLP_ON;
  options.cov_cuts = GLP_ON;
  options.tm_lim = static_cast<int>(seconds * 1000);
  double bound = glp_get_obj_val(lp);
  options.cb_info = &bound;
  options.cb_func = [](glp_tree* tree, void* info) {
    const int best = glp_ios_best_node(tree);
    if (best != 0) *static_cast<double*>(info) = glp_ios_node_bound(tree, best);
  };
  const int ended = glp_intopt(lp, &options);
  const int status = glp_mip_status(lp);
  result.complete = ended == 0;
  result.bound = bound;
  if (status == GLP_OPT || status == GLP_FEAS) {
    result.cost = glp_mip_obj_val(lp);
    for (std::size_t c = 0; c < program.columns.size(); ++c) {
      result.values.push_back(glp_mip_col_val(lp, static_cast<int>(c) + 1));
    }
    if (result.complete) result.bound = *result.cost;
  }
  return result;
}

}  // namespace tagline::test
