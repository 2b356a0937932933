// Which floor space the bodies of carts sweep while they drive, turn or stand, in every way that
// the pose graph allows: the geometry behind the conflicts of track.hpp.
#pragma once

#include <vector>

#include "server/floor/body.hpp"
#include "server/floor/ways.hpp"

namespace tagline::floor {

/// The space swept in one situation, as outlines that together contain every body in it, and
/// hardly more: exact on straight tape, a few mm wider where the body swings.
using Sweep = std::vector<Outline>;

/// Some cart can drive forward into this pose.
bool has_way_in(const Ways& ways, PoseIx pose);

/// Sweeps of one floor. Keeps a reference to the ways.
class Sweeper {
 public:
  explicit Sweeper(const Ways& ways);

  /// A cart drives along `move` from its first to its last mm, its tail on any way that leads to
  /// move.from (straight behind it after turning on the spot). Same space for both gears.
  [[nodiscard]] Sweep driving(const Move& move) const;
  /// A cart that was set down on the tape to `pose` drives up to the point, its tail on any way
  /// that leads there, or straight behind it.
  [[nodiscard]] Sweep driving_from_nowhere(PoseIx pose) const;
  /// A cart turns on the spot at move.from.
  [[nodiscard]] Sweep turning(const Move& move) const;
  /// A cart stands at the pose, its reader up to `slack` short of or beyond the point, on any way
  /// in and out, or straight on.
  [[nodiscard]] Sweep standing(PoseIx pose, Mm slack) const;

 private:
  /// Tape on which a tail may lie: the one that leads to `pose`, whose point is `behind` mm before
  /// the start of the tape the reader is on. `endless`: also straight back beyond its near end.
  struct Stretch {
    PoseIx pose;
    double behind{};
    bool endless{false};
  };

  /// A cart may come into this pose with its tail on no tape: after turning on the spot, or set
  /// down by a person where no way leads in.
  [[nodiscard]] bool tail_may_be_off_tape(PoseIx pose) const;
  [[nodiscard]] const Polyline& tape_to(PoseIx pose) const;
  /// Every stretch less than a body behind the start of the tape to `pose`, entered by `move`
  /// (null: by any move, or set down there by hand).
  [[nodiscard]] std::vector<Stretch> stretches_before(PoseIx pose, const Move* move) const;
  /// Adds a cart whose reader goes from `first` to `last` mm along the tape to `to`; beyond its
  /// end, straight on.
  void add_drive(PoseIx to, const Move* move, double first, double last, Sweep& sweep) const;
  void add_leg(PoseIx to, const Stretch& tail, double first, double last, Sweep& sweep) const;
  void add_arriving(PoseIx pose, double slack, Sweep& sweep) const;
  void add_leaving(PoseIx pose, double slack, Sweep& sweep) const;

  const Ways* ways_;
  std::vector<Polyline> tapes_;  // 2 * segment + reversed
};

}  // namespace tagline::floor
