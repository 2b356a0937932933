// The transportation problem against GLPK on random cases.
#include <gtest/gtest.h>

#include <random>

#include "server/dispatch/transport_problem.hpp"
#include "tests/unit/throughput/linear_program.hpp"

namespace tagline::dispatch {
namespace {

TEST(Transport, ByHand) {
  // Two units at the first place, one at the second; the second wants two, the first one.
  TransportProblem problem{{2, 1}, {1, 2}, {}};
  problem.cost = {{4, 7}, {3, 5}};
  // 0->0 once (4), 0->1 once (7), 1->1 once (5) = 16; or 0->1 twice, 1->0 once = 17.
  EXPECT_EQ(least_cost(problem), 16);
}

TEST(Transport, WithoutAWayThereIsNoAnswer) {
  TransportProblem problem{{1, 1}, {1, 1}, {}};
  problem.cost = {{1, std::nullopt}, {1, std::nullopt}};
  EXPECT_EQ(least_cost(problem), std::nullopt);
}

TEST(Transport, AgreesWithGlpkOnRandomCases) {
  std::mt19937 random{7};
  const auto whole = [&](std::int64_t low, std::int64_t high) {
    return std::uniform_int_distribution<std::int64_t>{low, high}(random);
  };
  int without_way = 0;
  for (int round = 0; round < 150; ++round) {
    const auto from = static_cast<std::size_t>(whole(1, 9));
    const auto to = static_cast<std::size_t>(whole(1, 9));
    TransportProblem problem;
    problem.supply.assign(from, 0);
    problem.demand.assign(to, 0);
    for (int unit = 0; unit < 40; ++unit) {
      const std::int64_t units = whole(1, 30'000);
      problem.supply[static_cast<std::size_t>(whole(0, static_cast<std::int64_t>(from) - 1))] +=
          units;
      problem.demand[static_cast<std::size_t>(whole(0, static_cast<std::int64_t>(to) - 1))] +=
          units;
    }
    for (std::size_t i = 0; i < from; ++i) {
      auto& row = problem.cost.emplace_back();
      for (std::size_t j = 0; j < to; ++j) {
        row.push_back(whole(0, 4) == 0 ? std::nullopt
                                       : std::optional<std::int64_t>{whole(0, 300'000'000)});
      }
    }
    const auto ours = least_cost(problem);
    const auto theirs = test::glpk_least_cost(problem);
    ASSERT_EQ(ours.has_value(), theirs.has_value()) << round;
    if (!ours) {
      ++without_way;
    } else {
      EXPECT_NEAR(static_cast<double>(*ours), *theirs, 1e-9 * *theirs + 1) << round;
    }
  }
  EXPECT_GT(without_way, 10);
  EXPECT_LT(without_way, 120);
}

}  // namespace
}  // namespace tagline::dispatch
