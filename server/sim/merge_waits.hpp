// The merges of a floor and how long carts stood waiting for each.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/track.hpp"
#include "server/sim/fleet_run.hpp"

namespace tagline::sim {

/// A merge is a point that can be reached in several ways from which one way leads on.
class MergeTable {
 public:
  explicit MergeTable(const floor::Track& track);
  /// The merge that a cart waits for when it waits for this piece: the point itself, or the merge
  /// at the end of the segment, else the one at its start. Nothing if it is none.
  [[nodiscard]] std::optional<std::size_t> of(PieceIx piece) const;
  void add(std::size_t merge, double seconds);
  /// One per merge, in the order of the floor's points.
  [[nodiscard]] const std::vector<MergeWaits>& waits() const { return waits_; }

 private:
  std::vector<MergeWaits> waits_;
  std::vector<std::optional<std::size_t>> of_piece_;
};

}  // namespace tagline::sim
