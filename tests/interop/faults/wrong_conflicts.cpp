// The program `tagline` with a fault in its tables, for the tests of what a broken run leaves
// behind. This file stands in for server/floor/conflict.cpp, which the linker then leaves out. The
// shipped program has no such switch.
#include <cstdlib>
#include <string_view>

#include "server/floor/conflict.hpp"

namespace tagline::floor {

/// Whatever crosses or lies near to each other is left out. With TAGLINE_FAULT=one-sided point B is
/// said to be in conflict with X, but not X with B, so that two carts come to hold them at once.
std::vector<std::vector<PieceIx>> find_conflicts(
    const Ways& ways, const std::vector<std::vector<PieceIx>>& /*covers*/, Mm /*slack*/) {
  const Floor& floor = ways.floor();
  std::vector<std::vector<PieceIx>> conflicts(floor.points.size() + floor.segments.size());
  const char* fault = std::getenv("TAGLINE_FAULT");
  if (fault == nullptr || std::string_view(fault) != "one-sided") return conflicts;
  const auto b = floor.find_point("B");
  const auto x = floor.find_point("X");
  if (b && x) conflicts[b->value].push_back({x->value});
  return conflicts;
}

}  // namespace tagline::floor
