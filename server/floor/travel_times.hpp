// Driving times to a point from everywhere, worked out once per point and kept.
#pragma once

#include <span>
#include <unordered_map>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::floor {

/// Least times (Ways' move times) from every pose to the nearest pose at a point, by ways over open
/// poses only. Keeps a reference to the ways. Not for use by several threads at once.
class TravelTimes {
 public:
  explicit TravelTimes(const Ways& ways) : ways_(&ways), open_(ways.pose_count(), true) {}

  /// Which poses a way may lead over. Forgets what was known if that changes anything.
  void set_open(const std::vector<bool>& open);
  [[nodiscard]] bool open(PoseIx pose) const { return open_[pose.value]; }
  /// Per pose; Duration::max() where there is no way. A pose at the point itself: 0. A start may
  /// be closed, the rest of the way not. Valid until set_open().
  const std::vector<Duration>& to(PointIx point) const;
  [[nodiscard]] Duration time(PoseIx from, PointIx point) const { return to(point)[from.value]; }
  /// The same to the nearest of `goals`. Those last asked for are kept.
  const std::vector<Duration>& to_nearest(const std::vector<PoseIx>& goals) const;

 private:
  const Ways* ways_;
  std::vector<bool> open_;
  mutable std::unordered_map<std::uint32_t, std::vector<Duration>> known_;
  mutable std::vector<PoseIx> nearest_goals_;
  mutable std::vector<Duration> to_nearest_;  // empty: not worked out
};

/// Least times from every pose to the nearest of `goals`, by ways over poses for which `open`
/// (indexed by pose) holds; the start is exempt. Dijkstra 1959, run backwards from the goals.
std::vector<Duration> times_to(const Ways& ways, std::span<const PoseIx> goals,
                               const std::vector<bool>& open);

}  // namespace tagline::floor
