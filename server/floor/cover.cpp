// Covers: see cover.hpp.
#include "server/floor/cover.hpp"

#include <algorithm>
#include <map>
#include <utility>

namespace tagline::floor {
namespace {

std::vector<PieceIx> cover_of(const Ways& ways, PoseIx start, Mm reach) {
  const Floor& floor = ways.floor();
  const auto points = static_cast<std::uint32_t>(floor.points.size());
  std::vector<PieceIx> cover;
  std::map<PoseIx, Mm> nearest{{start, Mm{0}}};
  std::vector<std::pair<PoseIx, Mm>> to_visit{{start, Mm{0}}};
  while (!to_visit.empty()) {
    const auto [pose, behind] = to_visit.back();
    to_visit.pop_back();
    if (behind > nearest[pose]) continue;
    cover.push_back({ways[pose].at.value});
    cover.push_back({points + ways[pose].by.value});
    const Mm further = behind + floor[ways[pose].by].length;
    if (further >= reach) continue;
    cover.push_back({ways.came_from(pose).value});
    for (const Move& move : ways.moves_to(pose)) {
      if (move.gear == Gear::back || move.turn_round) continue;
      const auto known = nearest.find(move.from);
      if (known != nearest.end() && known->second <= further) continue;
      nearest[move.from] = further;
      to_visit.emplace_back(move.from, further);
    }
  }
  std::sort(cover.begin(), cover.end());
  cover.erase(std::unique(cover.begin(), cover.end()), cover.end());
  return cover;
}

}  // namespace

std::vector<std::vector<PieceIx>> find_covers(const Ways& ways, Mm reach) {
  std::vector<std::vector<PieceIx>> covers;
  covers.reserve(ways.pose_count());
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    covers.push_back(cover_of(ways, PoseIx{p}, reach));
  }
  return covers;
}

}  // namespace tagline::floor
