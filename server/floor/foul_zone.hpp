// Bodies put down along the ways that lead to a pose and on from it, and how far back along one way
// they foul those on another. The measuring part of merges.hpp.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/body.hpp"
#include "server/floor/ways.hpp"

namespace tagline::floor {

/// A way over the tape to some pose, and perhaps on from it.
struct WayIn {
  TapePath path;
  /// Where on it the reader is over the pose's point, mm.
  double arrives{};
};

/// All ways of at least `enough` mm that lead to `pose` without turning on the spot, each cut off
/// where nothing leads further back; at most 32. `on`: the tape driven after it, if any.
std::vector<WayIn> ways_into(const Ways& ways, PoseIx pose, double enough,
                             std::optional<Move> on = {});

/// The bodies on `ways` with the reader from `first` to `last` mm past the pose (negative: before).
std::vector<Outline> bodies_along(const CartBody& body, const std::vector<WayIn>& ways,
                                  double first, double last);

/// How far before `ahead` mm past the pose a body on one of `ways` stops to foul all of `others`,
/// going back; nothing if it does not within `search` mm. 0 if it doesn't foul there at all.
std::optional<double> foul_distance(const CartBody& body, const std::vector<WayIn>& ways,
                                    double ahead, double search,
                                    const std::vector<Outline>& others);

}  // namespace tagline::floor
