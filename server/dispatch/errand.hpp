// An errand laid out on the floor: the steps from where a cart can be turned to it, over its
// stops, to a place of rest. Complete from the start, so that the guard can prove a way out (I5).
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::dispatch {

struct Errand {
  /// steps[0] is the pose it starts from, steps.back() the place of rest.
  std::vector<PoseIx> steps;
  /// Index into `steps` for each stop.
  std::vector<std::size_t> stop_steps;
  /// Driving time of the whole.
  Duration time{};
};

/// What is wanted. Without stops the cart only goes to rest.
struct ErrandWish {
  PoseIx start;
  std::vector<PointIx> stops;  // in turn
  /// Places of rest to choose from; the one that makes the whole shortest is taken.
  std::vector<PoseIx> rests;
};

/// The errand of least driving time over all poses in which its stops can be visited, other traffic
/// left out, or nothing if there is no way. `open`: may the way lead over that pose (the start is
/// exempt).
std::optional<Errand> lay_out(const floor::Ways& ways, const ErrandWish& wish,
                              const std::function<bool(PoseIx)>& open);

}  // namespace tagline::dispatch
