// The floor as exclusive pieces: see track.hpp.
#include "server/floor/track.hpp"

#include <algorithm>

#include "server/floor/conflict.hpp"
#include "server/floor/cover.hpp"

namespace tagline::floor {
namespace {

std::vector<std::vector<PoseIx>> find_clashes(const std::vector<std::vector<PieceIx>>& covers,
                                              const std::vector<std::vector<PieceIx>>& conflicts) {
  std::vector<std::vector<PoseIx>> covered_by(conflicts.size());
  for (std::uint32_t pose = 0; pose < covers.size(); ++pose) {
    for (const PieceIx piece : covers[pose]) covered_by[piece.value].push_back({pose});
  }
  std::vector<std::vector<PoseIx>> clashes(covers.size());
  for (std::size_t pose = 0; pose < covers.size(); ++pose) {
    std::vector<PoseIx>& found = clashes[pose];
    const auto add = [&](PieceIx piece) {
      const auto& more = covered_by[piece.value];
      found.insert(found.end(), more.begin(), more.end());
    };
    for (const PieceIx piece : covers[pose]) {
      add(piece);
      std::ranges::for_each(conflicts[piece.value], add);
    }
    std::ranges::sort(found);
    const auto doubles = std::ranges::unique(found);
    found.erase(doubles.begin(), doubles.end());
  }
  return clashes;
}

}  // namespace

Track::Track(const Ways& ways)
    : ways_{&ways},
      covers_{
          find_covers(ways, ways.floor().cart.length + ways.floor().cart.clearance + stop_slack)},
      conflicts_{find_conflicts(ways, covers_, stop_slack)},
      clashes_{find_clashes(covers_, conflicts_)} {
  for (std::uint32_t k = 0; k < floor().points.size(); ++k)
    for (const std::string& tag : floor().points[k].tags) tags_.emplace(tag, PointIx{k});
}

std::optional<PointIx> Track::find_tag(std::string_view uid) const {
  const auto found = tags_.find(uid);
  if (found == tags_.end()) return {};
  return found->second;
}

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

std::span<const PoseIx> Track::clashes(PoseIx pose) const { return clashes_[pose.value]; }

bool Track::clash(PoseIx a, PoseIx b) const {
  return std::ranges::binary_search(clashes_[a.value], b);
}

}  // namespace tagline::floor
