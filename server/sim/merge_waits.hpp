// The merges of a floor and how long carts stood waiting for each.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/merge_points.hpp"
#include "server/sim/fleet_run.hpp"

namespace tagline::sim {

class MergeTable {
 public:
  explicit MergeTable(const floor::Track& track);
  /// The merge that a cart waits for when it waits for this piece; nothing if it is none.
  [[nodiscard]] std::optional<std::size_t> of(PieceIx piece) const { return points_.of(piece); }
  void add(std::size_t merge, double seconds);
  /// One per merge, in the order of the floor's points.
  [[nodiscard]] const std::vector<MergeWaits>& waits() const { return waits_; }

 private:
  floor::MergePoints points_;
  std::vector<MergeWaits> waits_;
};

}  // namespace tagline::sim
