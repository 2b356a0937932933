// See merge_waits.hpp.
#include "server/sim/merge_waits.hpp"

#include <algorithm>

namespace tagline::sim {

MergeTable::MergeTable(const floor::Track& track) : of_piece_(track.piece_count()) {
  const floor::Ways& ways = track.ways();
  const floor::Floor& floor = track.floor();
  std::vector<std::optional<std::size_t>> at_point(floor.points.size());
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    std::vector<PoseIx> onward;
    for (const PoseIx pose : ways.poses_at({p})) {
      for (const floor::Move& move : ways.moves_from(pose)) {
        if (move.gear == floor::Gear::forward && !move.turn_round) onward.push_back(move.to);
      }
    }
    std::ranges::sort(onward);
    if (std::ranges::adjacent_find(onward) == onward.end()) continue;
    at_point[p] = waits_.size();
    waits_.push_back({{p}, 0, 0});
    of_piece_[track.piece(PointIx{p}).value] = at_point[p];
  }
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const auto& merge = at_point[floor.segments[s].to.value];
    of_piece_[track.piece(SegmentIx{s}).value] =
        merge ? merge : at_point[floor.segments[s].from.value];
  }
}

std::optional<std::size_t> MergeTable::of(PieceIx piece) const { return of_piece_[piece.value]; }

void MergeTable::add(std::size_t merge, double seconds) {
  ++waits_[merge].waits;
  waits_[merge].seconds += seconds;
}

}  // namespace tagline::sim
