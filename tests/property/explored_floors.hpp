// Which floors the explorers walk, and how far.
#pragma once

#include <cstdlib>
#include <string_view>
#include <vector>

#include "tests/support/effort.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {

/// Whether a person asked for the long exploration with TAGLINE_EXPLORE=full.
inline bool explores_fully() {
  const char* wish = std::getenv("TAGLINE_EXPLORE");
  return wish != nullptr && std::string_view(wish) == "full";
}

/// With sanitizers every third; the suite `searches` has them all.
inline std::vector<floor::Floor> explored_floors() {
  auto floors = small_floors();
  floors.push_back(passing_place());
  floors.push_back(plain_loop());
  floors.push_back(tight_loop());
  if (!sanitized) return floors;
  std::vector<floor::Floor> some;
  for (std::size_t i = 0; i < floors.size(); i += 3) some.push_back(floors[i]);
  return some;
}

}  // namespace tagline::test
