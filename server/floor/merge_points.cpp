// See merge_points.hpp.
#include "server/floor/merge_points.hpp"

#include <algorithm>

namespace tagline::floor {

MergePoints::MergePoints(const Track& track) : of_piece_(track.piece_count()) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  std::vector<std::optional<std::size_t>> at_point(floor.points.size());
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    std::vector<PoseIx> onward;
    for (const PoseIx pose : ways.poses_at({p})) {
      for (const Move& move : ways.moves_from(pose)) {
        if (move.gear == Gear::forward && !move.turn_round) onward.push_back(move.to);
      }
    }
    std::ranges::sort(onward);
    if (std::ranges::adjacent_find(onward) == onward.end()) continue;
    at_point[p] = all_.size();
    all_.push_back({p});
    of_piece_[track.piece(PointIx{p}).value] = at_point[p];
  }
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const auto& merge = at_point[floor.segments[s].to.value];
    of_piece_[track.piece(SegmentIx{s}).value] =
        merge ? merge : at_point[floor.segments[s].from.value];
  }
}

}  // namespace tagline::floor
