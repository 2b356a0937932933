// Which cart for which job: all open jobs and all carts looked at together.
//
// What is optimised, in words: as many jobs as can be are matched to carts, one each, so that the
// time until the loads are picked up is least in sum, urgent jobs counting for more travel. As a
// formula, over matchings M of greatest size:
//
//   minimise  sum over (c, j) in M of   ready(c) + travel(c, pickup(j)) - price(pickup(j))
//                                       - urgency(j) / 10 - (steady if c has j already)
//                                       - (30 s if j is the first of c's tour) + delay(c, j)
//   urgency(j) = 10 min x (priority - 5) + age + lateness
//   lateness   = 0 while more than an hour is left until j is due, then what is missing of it
//
// price(p): what it costs in empty travel, in the long run, that loads begin at p where few end:
// the half the dual price of the transportation problem over the floor's usual flows (half, because
// the jobs of the moment are only roughly the usual ones). A cart that is near one of the scarce
// pickups so takes it now, instead of leaving it for one that is far away later.
//
// The tours (tours.hpp) are what each cart would do if all open jobs were dealt out at once,
// several to a cart: a look further ahead, where there are more jobs than carts. delay(c, j) is
// what other traffic costs the pair and the pair costs the others, for the pairs that come into
// question. Both are added by the caller.
//
// So ten minutes of age, or one step of priority, outweigh one minute of travel, and no job is
// starved: its age grows without end. ready(c) is when the cart can turn to another job: at the end
// of its authority, or when its present load is off. `steady` keeps a decision that was made unless
// another is clearly better, so that two of them can't alternate; and a job is taken from its cart
// three times at most (control/candidates.cpp).
#pragma once

#include <cstddef>
#include <limits>
#include <optional>
#include <vector>

#include "server/floor/units.hpp"

namespace tagline::dispatch {

/// Costs, row by row; `forbidden` where the pair can't be.
struct CostTable {
  static constexpr std::int64_t forbidden = std::numeric_limits<std::int64_t>::max();

  CostTable(std::size_t row_count, std::size_t column_count)
      : rows(row_count), columns(column_count), costs(row_count * column_count, forbidden) {}
  std::int64_t& at(std::size_t row, std::size_t column) { return costs[row * columns + column]; }
  [[nodiscard]] std::int64_t at(std::size_t row, std::size_t column) const {
    return costs[row * columns + column];
  }

  std::size_t rows;
  std::size_t columns;
  std::vector<std::int64_t> costs;
};

/// Per row its column, each used once at most: as many allowed pairs as can be, and of these
/// matchings one of least total cost. Costs from -10^12 to 10^12. Deterministic.
/// The Hungarian method by shortest augmenting paths (H. W. Kuhn 1955; R. Jonker, A. Volgenant,
/// "A shortest augmenting path algorithm", Computing 38, 1987), O(rows^2 x columns).
std::vector<std::optional<std::size_t>> least_cost_matching(const CostTable& table);

struct Urgency {
  int priority{};
  Duration age{};
  /// Until it is due; nothing if it has no due time.
  std::optional<Duration> left{};
};

/// The formula's urgency(j).
Duration urgency(const Urgency& job);

/// The formula's term for a pair.
std::int64_t cost(Duration ready, Duration travel, Duration price, const Urgency& job,
                  bool has_it_already);

/// The formula's price(p) for each of some places. travel[i][j]: from place i to place j,
/// Duration::max() for no way. `ends[i]`, `begins[i]`: loads that usually end and begin there, in
/// any one unit. Zeros where the flows say nothing. Dual variables of F. L. Hitchcock's
/// transportation problem (1941), from the matching of some 60 loads drawn in these proportions.
std::vector<Duration> pickup_prices(const std::vector<std::vector<Duration>>& travel,
                                    const std::vector<double>& ends,
                                    const std::vector<double>& begins);

}  // namespace tagline::dispatch
