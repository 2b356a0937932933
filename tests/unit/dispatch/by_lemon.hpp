// The optima that the dispatcher's are compared with, by LEMON 1.3.1 (B. Dezso, A. Juttner,
// P. Kovacs, "LEMON - an open source C++ graph template library", 2011), a library of other
// people's making. Plain C++17: see CMakeLists.txt.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace tagline::test {

/// Rows of costs, all of equal length; nothing where the pair can't be.
using Costs = std::vector<std::vector<std::optional<std::int64_t>>>;

struct MatchingWorth {
  std::size_t pairs{};
  std::int64_t cost{};
};

/// As many pairs as can be, and of these matchings the least cost: Edmonds' weighted matching in
/// general graphs (lemon::MaxWeightedMatching), in which each pair is worth more than all costs
/// together.
MatchingWorth matching_by_lemon(const Costs& costs);

/// Least total cost of the transportation problem, or nothing if some supply has no way:
/// lemon::NetworkSimplex. An assignment of all rows is one with supplies of 1 and, in the columns,
/// demands of at most 1 (`all_demand` false).
std::optional<std::int64_t> transport_by_lemon(const std::vector<int>& supply,
                                               const std::vector<int>& demand, const Costs& costs,
                                               bool all_demand = true);

}  // namespace tagline::test
