// The floor as exclusive pieces: which pieces a cart needs to be in a pose, and which pieces two
// carts may not have at once. Everything the traffic guard knows of geometry is in these tables.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::floor {

/// How far a cart may stand beyond a tag it stopped at, plus how early a reader may see it, mm.
/// (A cart creeps up to a stop; reader window 20 to 50 mm: common practice, no source.)
inline constexpr Mm stop_slack{150};

/// Pieces, covers and conflicts of one floor. Immutable. Keeps a reference to the ways.
///
/// Pieces: one per point, then one per segment.
///
/// cover(pose): every piece that the body of a cart in that pose may lie on, or whose loss would
/// let another cart come closer than the clearance. It contains the pose's point, the segment it
/// came by, and every point closer than  length + clearance + stop_slack  behind it with the
/// segments that lead there (all possible ways behind, where the pose leaves that open; behind a
/// turn on the spot no tape is known). A cart standing in pose q, its reader up to stop_slack
/// short of or beyond the point, is inside cover(q); one driving from pose p to pose q, or turning
/// on the spot at p before it does, is inside cover(p) + cover(q).
///
/// conflicts(piece): the pieces that no other cart may hold while one cart holds `piece` (besides
/// `piece` itself). Symmetric. Built so that the holding rule is sound: for any two placements of
/// two bodies closer than the clearance (or touching), the covers they drive or stand in share a
/// piece or contain a conflicting pair. Bodies are as body.hpp says. Also has the floor file's own
/// `conflicts`. Found once, in floating point, when the floor is loaded: a distance within a
/// thousandth of a mm of the clearance could differ between machines, decisions made from the
/// finished tables can't.
class Track {
 public:
  explicit Track(const Ways& ways);

  [[nodiscard]] const Ways& ways() const { return *ways_; }
  [[nodiscard]] const Floor& floor() const { return ways_->floor(); }
  [[nodiscard]] std::size_t piece_count() const { return conflicts_.size(); }
  [[nodiscard]] PieceIx piece(PointIx point) const { return {point.value}; }
  [[nodiscard]] PieceIx piece(SegmentIx segment) const;
  /// "P12" or "S7": the id of the point or segment.
  [[nodiscard]] const std::string& name(PieceIx piece) const;
  [[nodiscard]] bool is_point(PieceIx piece) const;
  /// Sorted, no duplicates.
  [[nodiscard]] std::span<const PieceIx> cover(PoseIx pose) const;
  /// Sorted, no duplicates, without `piece` itself.
  [[nodiscard]] std::span<const PieceIx> conflicts(PieceIx piece) const;
  /// The poses that nobody may be in while another cart is in `pose`: their covers share a piece
  /// with its cover or contain one in conflict with it. Symmetric; sorted; with `pose` itself.
  [[nodiscard]] std::span<const PoseIx> clashes(PoseIx pose) const;
  [[nodiscard]] bool clash(PoseIx a, PoseIx b) const;
  /// Floor::find_tag(), at once: every read of every cart asks.
  [[nodiscard]] std::optional<PointIx> find_tag(std::string_view uid) const;

 private:
  const Ways* ways_;
  std::vector<std::vector<PieceIx>> covers_;
  std::vector<std::vector<PieceIx>> conflicts_;
  std::vector<std::vector<PoseIx>> clashes_;
  std::map<std::string, PointIx, std::less<>> tags_;
};

}  // namespace tagline::floor
