// The floor as exclusive pieces: see track.hpp.
#include "server/floor/track.hpp"

#include "server/floor/conflict.hpp"
#include "server/floor/cover.hpp"

namespace tagline::floor {

Track::Track(const Ways& ways)
    : ways_{&ways},
      covers_{
          find_covers(ways, ways.floor().cart.length + ways.floor().cart.clearance + stop_slack)},
      conflicts_{find_conflicts(ways, covers_, stop_slack)} {}

PieceIx Track::piece(SegmentIx segment) const {
  return {static_cast<std::uint32_t>(floor().points.size()) + segment.value};
}

const std::string& Track::name(PieceIx piece) const {
  const auto points = floor().points.size();
  return is_point(piece) ? floor().points[piece.value].id
                         : floor().segments[piece.value - points].id;
}

bool Track::is_point(PieceIx piece) const { return piece.value < floor().points.size(); }

std::span<const PieceIx> Track::cover(PoseIx pose) const { return covers_[pose.value]; }

std::span<const PieceIx> Track::conflicts(PieceIx piece) const { return conflicts_[piece.value]; }

}  // namespace tagline::floor
