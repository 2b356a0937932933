// The trips that carts are to make while the guard is explored, and which poses clash, worked out
// from the floor's tables alone.
#pragma once

#include <algorithm>
#include <stdexcept>
#include <utility>
#include <vector>

#include "server/dispatch/errand.hpp"
#include "server/floor/track.hpp"

namespace tagline::test {

/// A floor with trips for some carts. Where there are sidings: from one over two stations back to
/// it, the stations in one turn or in the other (two ways per cart). Without: once round from where
/// it stands.
struct Scene {
  Scene(floor::Floor f, std::size_t carts, std::size_t ways_each)
      : floor(std::move(f)), ways(floor), track(ways), touching(ways.pose_count()) {
    for (std::uint32_t a = 0; a < ways.pose_count(); ++a) {
      touching[a].resize(ways.pose_count());
      for (std::uint32_t b = 0; b < ways.pose_count(); ++b) {
        touching[a][b] = covers_touch({a}, {b}) ? 1 : 0;
      }
    }
    std::vector<PoseIx> rests;
    for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
      if (floor.points[p].siding) rests.push_back(ways.poses_at({p}).front());
    }
    if (rests.empty()) {
      lay_out_laps(carts);
    } else {
      lay_out_errands(carts, ways_each, rests);
    }
  }
  /// Bodies in these two poses could touch.
  [[nodiscard]] bool touch(PoseIx a, PoseIx b) const { return touching[a.value][b.value] != 0; }

  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
  std::vector<std::vector<char>> touching;
  std::vector<std::vector<std::vector<PoseIx>>> trips;  // [cart][way]

 private:
  [[nodiscard]] bool covers_touch(PoseIx a, PoseIx b) const {
    for (const PieceIx x : track.cover(a)) {
      for (const PieceIx y : track.cover(b)) {
        if (x == y || std::ranges::binary_search(track.conflicts(x), y)) return true;
      }
    }
    return false;
  }
  void lay_out_errands(std::size_t carts, std::size_t ways_each, const std::vector<PoseIx>& rests) {
    if (rests.size() < carts) throw std::runtime_error("too few sidings on " + floor.name);
    for (std::size_t i = 0; i < carts; ++i) {
      const auto open = [&](PoseIx pose) {
        for (std::size_t j = 0; j < carts; ++j) {
          if (j != i && touch(pose, rests[j])) return false;
        }
        return true;
      };
      const std::size_t count = floor.stations.size();
      PointIx a = floor.stations[i % count].point;
      PointIx b = floor.stations[(i + 1 + i % 2) % count].point;
      trips.emplace_back();
      for (std::size_t w = 0; w < ways_each; ++w, std::swap(a, b)) {
        const auto errand = dispatch::lay_out(
            ways, {.start = rests[i], .stops = {a, b}, .rests = {rests[i]}}, open);
        if (!errand) throw std::runtime_error("no errand on " + floor.name);
        trips.back().push_back(errand->steps);
      }
    }
  }
  void lay_out_laps(std::size_t carts) {
    std::vector<PoseIx> lap{PoseIx{0}};
    for (PoseIx next = ways.moves_from(lap.back()).front().to; next != lap.front();
         next = ways.moves_from(lap.back()).front().to) {
      lap.push_back(next);
    }
    for (std::size_t i = 0; i < carts; ++i) {
      std::vector<PoseIx> trip;
      for (std::size_t s = 0; s <= lap.size(); ++s) {
        trip.push_back(lap[(i * lap.size() / carts + s) % lap.size()]);
      }
      trips.push_back({trip});
    }
  }
};

}  // namespace tagline::test
