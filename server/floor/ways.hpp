// How carts can move over a floor: poses (standing at a point, having come by a known way) and
// the moves between them. All routing and all holdings are expressed in poses, because what a
// cart can do next, and which track its tail lies on, depend on how it came to the point.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::floor {

/// Reader over `at`, nose ahead, body trailing back over the segment it arrived by.
struct Pose {
  PointIx at;
  SegmentIx by;
  /// Arrived from the segment's `to` end at its `from` end (two-way segments only).
  bool reversed{false};
  /// Set exactly when `by` is a spur: the pose at the spur's mouth from which it was entered and
  /// to which the cart backs out. One spur end therefore has one pose per way into its mouth.
  std::optional<PoseIx> entry;
};

enum class Gear { forward, back };

/// One drive from a pose to the next: along exactly one segment.
struct Move {
  PoseIx from;
  PoseIx to;
  SegmentIx segment;
  Gear gear{Gear::forward};
  /// The cart turns on the spot at `from` before it drives (needs points[].turn_round).
  bool turn_round{false};
  /// The branch to take when leaving `from`: from the headings of the tape a cart comes by and of
  /// the tapes out, all different where a cart has up to three to choose from (beyond three they
  /// can't be). segments[].turn overrides it for a segment left at its `from` end. After a turn on
  /// the spot: as seen after half a turn. straight for Gear::back.
  Branch branch{Branch::straight};
  Mm length;
  /// Driving time at the slower of the segment's and the cart's speed, plus the turn if any.
  Duration time;
};

/// Time taken to turn on the spot, half a turn (common practice, no source).
inline constexpr Duration turn_round_time{6'000};
/// A cart can't follow tape through a corner sharper than this without turning on the spot, deg.
inline constexpr double sharpest_corner_deg = 120.0;

/// The pose graph of one floor. Immutable. Keeps a reference to the floor.
///
/// Moves: forward along a segment out of `at` (never straight back along the segment it came by,
/// nor round a corner sharper than `sharpest_corner_deg`, unless `at` is a turn_round point);
/// forward into a spur, without turning on the spot; back out of a spur to the pose at its mouth.
/// A cart reverses nowhere else. At a spur's end it can only back out or enter a further spur.
/// There is at most one move from a pose to another. `two_way` of a spur means nothing.
/// Throws std::length_error for a floor whose spurs part and meet again without end.
class Ways {
 public:
  explicit Ways(const Floor& floor);

  [[nodiscard]] const Floor& floor() const { return *floor_; }
  [[nodiscard]] std::size_t pose_count() const { return poses_.size(); }
  [[nodiscard]] const Pose& operator[](PoseIx ix) const { return poses_[ix.value]; }
  [[nodiscard]] std::span<const Move> moves_from(PoseIx pose) const;
  [[nodiscard]] std::span<const Move> moves_to(PoseIx pose) const;
  [[nodiscard]] const Move* find_move(PoseIx from, PoseIx to) const;
  /// Every pose at a point, in a fixed order; empty for a point no segment leads to.
  [[nodiscard]] std::span<const PoseIx> poses_at(PointIx point) const;
  /// The point a cart in this pose came from (a spur pose: the spur's near end).
  [[nodiscard]] PointIx came_from(PoseIx pose) const;

 private:
  const Floor* floor_;
  std::vector<Pose> poses_;
  std::vector<Move> moves_out_, moves_in_;           // grouped by pose
  std::vector<std::uint32_t> out_start_, in_start_;  // pose -> first of its moves
  std::vector<std::vector<PoseIx>> at_point_;
};

/// A way through the pose graph: `steps` starts with the pose it starts from.
struct Route {
  std::vector<PoseIx> steps;
  Duration time{};
};

/// Shortest-time route from `from` to any pose for which `is_goal` holds, using only poses for
/// which `open` holds (`from` itself is exempt). Zero moves when `from` is a goal. Nothing when no
/// way exists. Ties are broken by pose index, so equal inputs give equal routes.
/// Dijkstra, "A note on two problems in connexion with graphs", Numerische Mathematik 1 (1959).
std::optional<Route> shortest_route(const Ways& ways, PoseIx from,
                                    const std::function<bool(PoseIx)>& is_goal,
                                    const std::function<bool(PoseIx)>& open);

/// Shortest times from `from` to every pose (Duration::max() where there is no way).
std::vector<Duration> times_from(const Ways& ways, PoseIx from,
                                 const std::function<bool(PoseIx)>& open);

}  // namespace tagline::floor
