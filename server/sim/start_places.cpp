// See start_places.hpp.
#include "server/sim/start_places.hpp"

#include <algorithm>
#include <limits>

#include "server/floor/polyline.hpp"

namespace tagline::sim {

std::vector<PoseIx> start_places(const floor::Track& track) {
  const floor::Ways& ways = track.ways();
  const floor::Floor& floor = track.floor();
  std::vector<PoseIx> chargers;
  std::vector<PoseIx> sidings;
  std::vector<PoseIx> others;
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    if (floor.points[p].tags.empty()) continue;
    const auto poses = ways.poses_at({p});
    for (const PoseIx pose : poses) {
      const auto same_way = std::ranges::count_if(
          poses, [&](PoseIx other) { return ways.came_from(other) == ways.came_from(pose); });
      if (same_way > 1) continue;  // a person could not say which of them is meant
      const bool siding = floor.points[p].siding;
      (!siding ? others : floor.has_charger({p}) ? chargers : sidings).push_back(pose);
    }
  }
  std::vector<PoseIx> places = chargers;
  places.insert(places.end(), sidings.begin(), sidings.end());
  const auto where = [&](PoseIx pose) { return floor[ways[pose].at].at; };
  std::vector<double> apart(others.size(), std::numeric_limits<double>::infinity());
  const auto taken = [&](PoseIx pose) {
    for (std::size_t i = 0; i < others.size(); ++i) {
      apart[i] = std::min(apart[i], floor::distance(where(others[i]), where(pose)));
    }
  };
  std::ranges::for_each(places, taken);
  while (!others.empty()) {
    const auto farthest = std::ranges::max_element(apart) - apart.begin();
    const PoseIx pose = others[static_cast<std::size_t>(farthest)];
    others.erase(others.begin() + farthest);
    apart.erase(apart.begin() + farthest);
    places.push_back(pose);
    taken(pose);
  }
  return places;
}

}  // namespace tagline::sim
