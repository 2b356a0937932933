// See capacity.hpp.
#include "server/traffic/capacity.hpp"

namespace tagline::traffic {

LiveLimit live_limit(const floor::Track& track) {
  LiveLimit limit;
  const auto& ways = track.ways();
  for (std::uint32_t p = 0; p < track.floor().points.size(); ++p) {
    const auto& point = track.floor().points[p];
    if (!point.siding || point.tags.empty() || ways.poses_at({p}).empty()) continue;
    limit.rests.push_back(ways.poses_at({p}).front());
  }
  limit.carts = limit.rests.size();
  limit.reason = "there is no further siding.";
  return limit;
}

}  // namespace tagline::traffic
