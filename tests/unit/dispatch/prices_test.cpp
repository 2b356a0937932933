// pickup_prices() against the transportation problem solved by LEMON's network
// simplex method (source: by_lemon.hpp).
//
// Doubled, the prices must be an optimal dual solution: with  u(i) = min over j of travel(i, j) -
// 2 price(j),  sum ends(i) u(i) + sum begins(j) 2 price(j)  is never more than the least cost
// (weak duality) and is equal to it only for optimal duals (strong duality: D. Gale, H. W. Kuhn,
// A. W. Tucker, "Linear programming and the theory of games", 1951). An own optimum of LEMON's
// duals need not be the same one; the value must.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <optional>
#include <random>

#include "server/dispatch/assignment.hpp"
#include "tests/unit/dispatch/by_lemon.hpp"

namespace tagline::dispatch {
namespace {

constexpr Duration no_way = Duration::max();

struct Flows {
  std::vector<std::vector<Duration>> travel;
  std::vector<int> ends, begins;  // of 60 each, so that the loads are dealt out exactly
};

/// Least total travel, or nothing if some loads have no way.
std::optional<std::int64_t> least_travel(const Flows& flows) {
  test::Costs costs;
  for (const auto& row : flows.travel) {
    auto& into = costs.emplace_back();
    for (const Duration time : row) {
      into.push_back(time == no_way ? std::nullopt : std::optional<std::int64_t>{time.count()});
    }
  }
  return test::transport_by_lemon(flows.ends, flows.begins, costs);
}

std::vector<Duration> prices(const Flows& flows) {
  return pickup_prices(flows.travel, {flows.ends.begin(), flows.ends.end()},
                       {flows.begins.begin(), flows.begins.end()});
}

/// The value of the doubled prices as a dual solution.
std::int64_t dual_value(const Flows& flows, const std::vector<Duration>& price) {
  std::int64_t value = 0;
  for (std::size_t i = 0; i < flows.ends.size(); ++i) {
    if (flows.ends[i] == 0) continue;
    Duration best = no_way;
    for (std::size_t j = 0; j < flows.begins.size(); ++j) {
      if (flows.begins[j] == 0 || flows.travel[i][j] == no_way) continue;
      best = std::min(best, flows.travel[i][j] - 2 * price[j]);
    }
    value += flows.ends[i] * best.count();
  }
  for (std::size_t j = 0; j < flows.begins.size(); ++j) {
    value += flows.begins[j] * 2 * price[j].count();
  }
  return value;
}

class Draw {
 public:
  explicit Draw(std::uint32_t seed) : random_{seed} {}
  int whole(int low, int high) { return std::uniform_int_distribution<int>{low, high}(random_); }
  Flows flows(int places, int no_way_percent) {
    const auto n = static_cast<std::size_t>(places);
    Flows flows{std::vector<std::vector<Duration>>(n, std::vector<Duration>(n)),
                std::vector<int>(n, 0), std::vector<int>(n, 0)};
    for (auto& row : flows.travel) {
      for (Duration& time : row) {
        time = whole(0, 99) < no_way_percent ? no_way : Duration{whole(0, 200'000)};
      }
    }
    for (int load = 0; load < 60; ++load) {
      ++flows.ends[static_cast<std::size_t>(whole(0, places - 1))];
      ++flows.begins[static_cast<std::size_t>(whole(0, places - 1))];
    }
    // Places where nothing begins or nothing ends occur as well.
    const auto give_up = [&](std::vector<int>& loads) {
      const auto a = static_cast<std::size_t>(whole(0, places - 1));
      const auto b = static_cast<std::size_t>(whole(0, places - 1));
      if (a != b) loads[b] += std::exchange(loads[a], 0);
    };
    give_up(flows.ends);
    give_up(flows.begins);
    return flows;
  }

 private:
  std::mt19937 random_;
};

TEST(Prices, DoubledAreOptimalDualsByLemon) {
  Draw draw{21};
  int compared = 0;
  int without_way = 0;
  int told_apart = 0;
  for (int round = 0; round < 400; ++round) {
    const Flows flows = draw.flows(draw.whole(1, 9), round % 2 == 0 ? 0 : 25);
    const auto least = least_travel(flows);
    const auto price = prices(flows);
    ASSERT_EQ(price.size(), flows.begins.size());
    if (!least) {
      ++without_way;
      // Half a price is never more than what all the travel of a floor could explain.
      for (const Duration p : price) EXPECT_LT(std::chrono::abs(p), std::chrono::hours{1});
      continue;
    }
    ++compared;
    // Each doubled price may be up to 3 ms off, by two divisions: 60 loads, both terms.
    EXPECT_NEAR(static_cast<double>(dual_value(flows, price)), static_cast<double>(*least), 360)
        << "round " << round;
    EXPECT_LE(dual_value(flows, price), *least) << "weak duality, round " << round;
    // Another price would not do: the check above can fail.
    for (std::size_t j = 0; j < price.size(); ++j) {
      if (flows.begins[j] == 0 || flows.begins[j] == 60) continue;
      auto wrong = price;
      wrong[j] += std::chrono::minutes{10};
      told_apart +=
          static_cast<double>(dual_value(flows, wrong)) < static_cast<double>(*least) - 360 ? 1 : 0;
      break;
    }
  }
  std::printf("  %d flows compared, %d without a way; a wrong price told apart %d times\n",
              compared, without_way, told_apart);
  EXPECT_GT(compared, 250);
  EXPECT_GT(without_way, 20);
  EXPECT_GT(told_apart, compared * 8 / 10);
}

TEST(Prices, AreHalfTheDualByHand) {
  // Loads end at A and B alike, but all begin at B: half the carts come from A, 100 s away. A load
  // at B so costs 100 s more than one at A would; nothing begins at A, so A has no price.
  const Duration apart = std::chrono::seconds{100};
  const std::vector<std::vector<Duration>> travel{{Duration{0}, apart}, {apart, Duration{0}}};
  const auto only_b = pickup_prices(travel, {1, 1}, {0, 1});
  EXPECT_EQ(only_b[0], Duration{0});
  // Where a few begin at A as well, the difference is the half of 100 s.
  const auto both = pickup_prices(travel, {1, 1}, {1, 3});
  EXPECT_EQ(both[1] - both[0], apart / 2);
}

TEST(Prices, AreZeroWhereTheFlowsSayNothing) {
  const std::vector<std::vector<Duration>> travel{{Duration{0}, Duration{5}},
                                                  {Duration{9}, Duration{0}}};
  const std::vector<Duration> zeros(2, Duration{0});
  EXPECT_EQ(pickup_prices(travel, {0, 0}, {1, 1}), zeros);
  EXPECT_EQ(pickup_prices(travel, {1, 1}, {0, 0}), zeros);
  EXPECT_EQ(pickup_prices(travel, {0, 0}, {0, 0}), zeros);
  EXPECT_TRUE(pickup_prices({}, {}, {}).empty());
  const std::vector<std::vector<Duration>> apart(2, std::vector<Duration>(2, no_way));
  EXPECT_EQ(pickup_prices(apart, {1, 1}, {1, 1}), zeros);
}

TEST(Prices, AreTheSameInAnyUnit) {
  Draw draw{22};
  for (int round = 0; round < 50; ++round) {
    const Flows flows = draw.flows(5, 0);
    std::vector<double> ends(flows.ends.begin(), flows.ends.end());
    std::vector<double> begins(flows.begins.begin(), flows.begins.end());
    for (double& weight : ends) weight /= 64;  // exact
    for (double& weight : begins) weight *= 32;
    EXPECT_EQ(pickup_prices(flows.travel, ends, begins), prices(flows));
  }
}

}  // namespace
}  // namespace tagline::dispatch
