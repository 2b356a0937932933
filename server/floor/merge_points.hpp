// Merges as people name them: by the point at which ways come together.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::floor {

/// A merge is a point that can be reached in several ways from which one way leads on.
class MergePoints {
 public:
  explicit MergePoints(const Track& track);
  /// In the order of the floor's points.
  [[nodiscard]] const std::vector<PointIx>& all() const { return all_; }
  /// The merge that a cart waits for when it waits for this piece, as an index of all(): the point
  /// itself, or the merge at the end of the segment, else the one at its start. Nothing if it is
  /// none.
  [[nodiscard]] std::optional<std::size_t> of(PieceIx piece) const {
    return of_piece_[piece.value];
  }

 private:
  std::vector<PointIx> all_;
  std::vector<std::optional<std::size_t>> of_piece_;
};

}  // namespace tagline::floor
