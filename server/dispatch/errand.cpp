// See errand.hpp.
#include "server/dispatch/errand.hpp"

#include <algorithm>

namespace tagline::dispatch {
namespace {

using Open = std::function<bool(PoseIx)>;

void append(Errand& errand, const floor::Route& route) {
  errand.steps.insert(errand.steps.end(), route.steps.begin() + 1, route.steps.end());
  errand.time += route.time;
}

/// Every partial errand continued to every pose in `stops`, the best one for each. One is kept per
/// pose, because what comes after depends on how the cart stands at a stop: the shortest way to a
/// stop isn't always part of the shortest whole.
std::vector<Errand> continue_to(const floor::Ways& ways, const std::vector<Errand>& partials,
                                const std::vector<PoseIx>& stops, const Open& open) {
  std::vector<Errand> result;
  for (const PoseIx stop : stops) {
    std::optional<Errand> best;
    for (const Errand& partial : partials) {
      const auto route = floor::shortest_route(
          ways, partial.steps.back(), [&](PoseIx pose) { return pose == stop; }, open);
      if (!route || (best && best->time <= partial.time + route->time)) continue;
      best = partial;
      append(*best, *route);
    }
    if (best) result.push_back(std::move(*best));
  }
  return result;
}

std::vector<PoseIx> poses_at(const floor::Ways& ways, PointIx point) {
  const auto poses = ways.poses_at(point);
  return {poses.begin(), poses.end()};
}

}  // namespace

std::optional<Errand> lay_out(const floor::Ways& ways, const ErrandWish& wish, const Open& open) {
  std::vector<Errand> partials(1);
  partials[0].steps = {wish.start};
  for (const PointIx stop : wish.stops) {
    partials = continue_to(ways, partials, poses_at(ways, stop), open);
    for (Errand& errand : partials) errand.stop_steps.push_back(errand.steps.size() - 1);
  }
  partials = continue_to(ways, partials, wish.rests, open);
  const auto best = std::ranges::min_element(partials, {}, &Errand::time);
  if (best == partials.end()) return {};
  return std::move(*best);
}

}  // namespace tagline::dispatch
