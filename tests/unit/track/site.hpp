// A floor with its ways and track, spoken of by ids, for the tests of covers and conflicts.
#pragma once

#include <algorithm>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "server/floor/track.hpp"
#include "tests/support/floor_builder.hpp"

namespace tagline::test {

struct Site {
  explicit Site(const FloorBuilder& builder) : floor{builder.build()}, ways{floor}, track{ways} {}
  explicit Site(floor::Floor ready) : floor{std::move(ready)}, ways{floor}, track{ways} {}
  Site(const Site&) = delete;
  Site& operator=(const Site&) = delete;

  [[nodiscard]] PieceIx piece(std::string_view id) const {
    for (std::uint32_t i = 0; i < track.piece_count(); ++i) {
      if (track.name(PieceIx{i}) == id) return {i};
    }
    throw std::invalid_argument("no piece \"" + std::string{id} + "\"");
  }
  /// Sorted ids.
  [[nodiscard]] std::vector<std::string> names(std::span<const PieceIx> pieces) const {
    std::vector<std::string> result;
    for (const PieceIx piece : pieces) result.push_back(track.name(piece));
    std::sort(result.begin(), result.end());
    return result;
  }
  /// Cover of the pose at `point` that came by `segment`; `entry_by`: for a spur, the segment
  /// driven before it.
  [[nodiscard]] std::vector<std::string> cover(std::string_view point, std::string_view segment,
                                               bool reversed = false,
                                               std::string_view entry_by = "") const {
    for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
      const floor::Pose& pose = ways[PoseIx{p}];
      if (floor[pose.at].id == point && floor[pose.by].id == segment && pose.reversed == reversed &&
          (entry_by.empty() || (pose.entry && floor[ways[*pose.entry].by].id == entry_by))) {
        return names(track.cover(PoseIx{p}));
      }
    }
    throw std::invalid_argument("no pose at " + std::string{point} + " by " + std::string{segment});
  }
  [[nodiscard]] std::vector<std::string> conflicts(std::string_view id) const {
    return names(track.conflicts(piece(id)));
  }
  [[nodiscard]] bool in_conflict(std::string_view a, std::string_view b) const {
    const auto of_a = track.conflicts(piece(a));
    return std::binary_search(of_a.begin(), of_a.end(), piece(b));
  }
  /// Every pair of pieces in conflict, "A-B" with A before B in piece order.
  [[nodiscard]] std::vector<std::string> all_conflicts() const {
    std::vector<std::string> result;
    for (std::uint32_t i = 0; i < track.piece_count(); ++i) {
      for (const PieceIx other : track.conflicts(PieceIx{i})) {
        if (other.value > i) result.push_back(track.name(PieceIx{i}) + "-" + track.name(other));
      }
    }
    return result;
  }

  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
};

}  // namespace tagline::test
