// The assignment of jobs to carts against LEMON's optimum (source: by_lemon.hpp): weighted matching
// on thousands of small tables, the network simplex method on large ones.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <random>

#include "server/dispatch/assignment.hpp"
#include "tests/unit/dispatch/by_lemon.hpp"

namespace tagline::dispatch {
namespace {

struct Result {
  std::size_t pairs{};
  std::int64_t cost{};
  bool operator==(const Result&) const = default;
};
void PrintTo(const Result& result, std::ostream* out) {
  *out << result.pairs << " pairs at " << result.cost;
}

/// What ours is worth; fails for a forbidden pair or a column used twice.
Result ours(const CostTable& table) {
  const auto matched = least_cost_matching(table);
  EXPECT_EQ(matched.size(), table.rows);
  Result result;
  std::vector<bool> used(table.columns, false);
  for (std::size_t r = 0; r < matched.size(); ++r) {
    if (!matched[r]) continue;
    EXPECT_LT(*matched[r], table.columns);
    EXPECT_NE(table.at(r, *matched[r]), CostTable::forbidden);
    EXPECT_FALSE(used[*matched[r]]);
    used[*matched[r]] = true;
    ++result.pairs;
    result.cost += table.at(r, *matched[r]);
  }
  return result;
}

test::Costs costs_of(const CostTable& table) {
  test::Costs costs(table.rows);
  for (std::size_t r = 0; r < table.rows; ++r) {
    for (std::size_t c = 0; c < table.columns; ++c) {
      const std::int64_t cost = table.at(r, c);
      costs[r].push_back(cost == CostTable::forbidden ? std::nullopt : std::optional{cost});
    }
  }
  return costs;
}

Result by_weighted_matching(const CostTable& table) {
  const test::MatchingWorth worth = test::matching_by_lemon(costs_of(table));
  return {worth.pairs, worth.cost};
}

/// For tables without forbidden pairs and no more rows than columns.
Result by_network_simplex(const CostTable& table) {
  const auto cost = test::transport_by_lemon(
      std::vector<int>(table.rows, 1), std::vector<int>(table.columns, 1), costs_of(table), false);
  return {cost ? table.rows : 0, cost.value_or(0)};
}

class Tables {
 public:
  explicit Tables(std::uint32_t seed) : random_{seed} {}
  std::int64_t whole(std::int64_t low, std::int64_t high) {
    return std::uniform_int_distribution<std::int64_t>{low, high}(random_);
  }
  CostTable draw(std::size_t rows, std::size_t columns, std::int64_t low, std::int64_t high,
                 double forbidden) {
    CostTable table(rows, columns);
    for (std::int64_t& cost : table.costs) {
      if (std::bernoulli_distribution{forbidden}(random_)) continue;
      cost = whole(low, high);
    }
    return table;
  }

 private:
  std::mt19937 random_;
};

TEST(Matching, EqualsLemonOnThousandsOfTables) {
  constexpr std::int64_t trillion = 1'000'000'000'000;
  struct Kind {
    std::int64_t low, high;
    double forbidden;
  };
  // Times as they come, negative ones, ties, ties with holes, the ends of what is allowed, hardly
  // anything allowed, nothing allowed.
  const Kind kinds[] = {{0, 600'000, 0},
                        {-600'000, 600'000, 0.2},
                        {0, 2, 0},
                        {-1, 1, 0.4},
                        {-trillion, trillion, 0.3},
                        {-90'000, 10'000, 0.8},
                        {trillion, trillion, 0.1},
                        {-trillion, -trillion, 0.5},
                        {0, 0, 1}};
  Tables tables{11};
  std::size_t compared = 0, wide = 0, tall = 0, square = 0, empty = 0, incomplete = 0;
  for (int round = 0; round < 900; ++round) {
    for (const Kind& kind : kinds) {
      const auto rows = static_cast<std::size_t>(tables.whole(0, 9));
      const auto columns = static_cast<std::size_t>(tables.whole(0, 9));
      const CostTable table = tables.draw(rows, columns, kind.low, kind.high, kind.forbidden);
      const Result here = ours(table);
      ASSERT_EQ(here, by_weighted_matching(table))
          << "round " << round << ": " << rows << " x " << columns << ", costs " << kind.low
          << " to " << kind.high;
      ++compared;
      wide += rows < columns ? 1 : 0;
      tall += rows > columns ? 1 : 0;
      square += rows == columns ? 1 : 0;
      empty += rows == 0 || columns == 0 ? 1 : 0;
      incomplete += here.pairs < std::min(rows, columns) ? 1 : 0;
    }
  }
  std::printf("  %zu tables: %zu wide, %zu tall, %zu square; %zu empty; %zu not fully matched\n",
              compared, wide, tall, square, empty, incomplete);
  EXPECT_GT(std::min({wide, tall, square, empty, incomplete}), 500u);
}

TEST(Matching, EqualsLemonOnLargeTables) {
  Tables tables{12};
  for (int round = 0; round < 6; ++round) {
    const CostTable table = tables.draw(60, 60 + 70 * static_cast<std::size_t>(round % 3),
                                        round % 2 == 0 ? -5'000 : 0, 300'000, 0);
    ASSERT_EQ(ours(table), by_network_simplex(table)) << "round " << round;
    CostTable turned(table.columns, table.rows);
    for (std::size_t r = 0; r < table.rows; ++r) {
      for (std::size_t c = 0; c < table.columns; ++c) turned.at(c, r) = table.at(r, c);
    }
    ASSERT_EQ(ours(turned), ours(table)) << "turned, round " << round;
  }
}

TEST(Matching, AddingToARowOrAColumnChangesNothingInASquare) {
  // A constant on a row or a column adds the same to every full matching.
  Tables tables{13};
  for (int round = 0; round < 300; ++round) {
    const auto n = static_cast<std::size_t>(tables.whole(1, 8));
    CostTable table = tables.draw(n, n, -1000, 1000, 0);
    const Result before = ours(table);
    const std::int64_t more = tables.whole(-5000, 5000);
    const auto row = static_cast<std::size_t>(tables.whole(0, static_cast<std::int64_t>(n) - 1));
    for (std::size_t c = 0; c < n; ++c) table.at(row, c) += more;
    ASSERT_EQ(ours(table).cost, before.cost + more);
  }
}

TEST(Matching, EqualTablesGiveEqualAnswers) {
  Tables tables{14};
  for (int round = 0; round < 300; ++round) {
    const auto rows = static_cast<std::size_t>(tables.whole(0, 8));
    const auto columns = static_cast<std::size_t>(tables.whole(0, 8));
    const CostTable table = tables.draw(rows, columns, 0, 1, 0.3);  // ties everywhere
    const auto first = least_cost_matching(table);
    // Another table in between, so that nothing kept from the call before could hide.
    (void)least_cost_matching(tables.draw(7, 5, -9, 9, 0.1));
    EXPECT_EQ(least_cost_matching(table), first);
  }
}

}  // namespace
}  // namespace tagline::dispatch
