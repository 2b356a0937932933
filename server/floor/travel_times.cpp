// See travel_times.hpp.
#include "server/floor/travel_times.hpp"

#include <queue>
#include <utility>

namespace tagline::floor {

std::vector<Duration> times_to(const Ways& ways, std::span<const PoseIx> goals,
                               const std::vector<bool>& open) {
  std::vector<Duration> times(ways.pose_count(), Duration::max());
  using Entry = std::pair<Duration, PoseIx>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  for (const PoseIx goal : goals) {
    times[goal.value] = Duration{0};
    queue.emplace(Duration{0}, goal);
  }
  while (!queue.empty()) {
    const auto [time, pose] = queue.top();
    queue.pop();
    if (time > times[pose.value] || !open[pose.value]) continue;
    for (const Move& move : ways.moves_to(pose)) {
      const Duration longer = time + move.time;
      if (longer >= times[move.from.value]) continue;
      times[move.from.value] = longer;
      queue.emplace(longer, move.from);
    }
  }
  return times;
}

void TravelTimes::set_open(const std::vector<bool>& open) {
  if (open == open_) return;
  open_ = open;
  known_.clear();
  to_nearest_.clear();
}

const std::vector<Duration>& TravelTimes::to(PointIx point) const {
  const auto known = known_.find(point.value);
  if (known != known_.end()) return known->second;
  return known_.emplace(point.value, times_to(*ways_, ways_->poses_at(point), open_)).first->second;
}

const std::vector<Duration>& TravelTimes::to_nearest(const std::vector<PoseIx>& goals) const {
  if (to_nearest_.empty() || goals != nearest_goals_) {
    nearest_goals_ = goals;
    to_nearest_ = times_to(*ways_, goals, open_);
  }
  return to_nearest_;
}

}  // namespace tagline::floor
