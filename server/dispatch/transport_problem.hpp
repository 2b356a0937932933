// The transportation problem: the cheapest way to bring units from where they are to where they
// are wanted (F. L. Hitchcock, J. Math. Phys. 20, 1941), as a flow of least cost by successive
// shortest paths (Boost.Graph).
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

namespace tagline::dispatch {

/// Whole units, whole costs per unit.
struct TransportProblem {
  std::vector<std::int64_t> supply;  // >= 0 each
  std::vector<std::int64_t> demand;  // >= 0 each; the sums are alike
  /// cost[i][j] >= 0 of one unit from supply i to demand j; nothing: no way.
  std::vector<std::vector<std::optional<std::int64_t>>> cost;
};

/// Least total cost; nothing if not all can be brought to where they are wanted.
std::optional<std::int64_t> least_cost(const TransportProblem& problem);

}  // namespace tagline::dispatch
