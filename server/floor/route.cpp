// Shortest ways through the pose graph: the searches declared in ways.hpp.
#include <algorithm>
#include <queue>
#include <utility>

#include "server/floor/ways.hpp"

namespace tagline::floor {
namespace {

struct Search {
  std::vector<Duration> time;  // Duration::max(): not reached
  std::vector<PoseIx> before;  // valid where reached, except for the start
};

/// Dijkstra from `from` until `stop_at` holds for a settled pose (returned) or all is settled.
/// The queue is ordered by time, then pose index, and among equally quick ways to a pose the one
/// by the lower pose wins: that makes the result a function of the input alone.
template <class StopAt, class Open>
std::optional<PoseIx> search(const Ways& ways, PoseIx from, const StopAt& stop_at, const Open& open,
                             Search& result) {
  result.time.assign(ways.pose_count(), Duration::max());
  result.before.assign(ways.pose_count(), from);
  using Entry = std::pair<Duration, PoseIx>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  result.time[from.value] = Duration{0};
  queue.emplace(Duration{0}, from);
  while (!queue.empty()) {
    const auto [time, pose] = queue.top();
    queue.pop();
    if (time > result.time[pose.value]) continue;
    if (stop_at(pose)) return pose;
    for (const Move& move : ways.moves_from(pose)) {
      const Duration arrival = time + move.time;
      Duration& known = result.time[move.to.value];
      if (arrival > known || !open(move.to)) continue;
      if (arrival < known) {
        known = arrival;
        result.before[move.to.value] = pose;
        queue.emplace(arrival, move.to);
      } else if (move.to != from && pose < result.before[move.to.value]) {
        result.before[move.to.value] = pose;
      }
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<Route> shortest_route(const Ways& ways, PoseIx from,
                                    const std::function<bool(PoseIx)>& is_goal,
                                    const std::function<bool(PoseIx)>& open) {
  Search found;
  const std::optional<PoseIx> goal = search(ways, from, is_goal, open, found);
  if (!goal) return std::nullopt;
  Route route;
  route.time = found.time[goal->value];
  for (PoseIx pose = *goal; pose != from; pose = found.before[pose.value]) {
    route.steps.push_back(pose);
  }
  route.steps.push_back(from);
  std::reverse(route.steps.begin(), route.steps.end());
  return route;
}

std::vector<Duration> times_from(const Ways& ways, PoseIx from,
                                 const std::function<bool(PoseIx)>& open) {
  Search found;
  search(
      ways, from, [](PoseIx) { return false; }, open, found);
  return std::move(found.time);
}

}  // namespace tagline::floor
