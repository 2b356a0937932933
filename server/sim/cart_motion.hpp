// Where the body of a cart of a fast run is at any moment: driving along its tape as its profile
// says, turning on the spot, or standing. It does as it is told, and knows no reasons.
#pragma once

#include <limits>
#include <optional>
#include <span>
#include <utility>

#include "server/sim/drive_profile.hpp"
#include "server/sim/tape_walk.hpp"

namespace tagline::sim {

/// `x`: where the reader is along the walk, mm. Times are the simulation's, s.
class CartMotion {
 public:
  static constexpr double never = std::numeric_limits<double>::infinity();

  /// `tapes` must outlive this. It stands with its reader over the point of the pose.
  CartMotion(const TapeTable& tapes, PoseIx standing);

  // ---- where it is ---------------------------------------------------------------------------
  [[nodiscard]] bool standing() const { return doing_ == Doing::standing; }
  [[nodiscard]] bool driving() const { return doing_ == Doing::driving; }
  [[nodiscard]] bool turning() const { return doing_ == Doing::turning; }
  /// x where it stands, or began the present drive.
  [[nodiscard]] double from() const { return from_x_; }
  /// x now.
  [[nodiscard]] double reader(double now) const {
    return driving() ? from_x_ + direction_ * profile_.distance(now) : from_x_;
  }
  [[nodiscard]] Rectangle body(double now) const;
  /// Speed of its reader, and of the corners while it turns, mm/s.
  [[nodiscard]] double speed(double now) const { return profile_.speed(now); }
  [[nodiscard]] double swing_speed() const;
  [[nodiscard]] double top_speed() const { return top_speed_; }
  /// +1 forward along the walk, -1 backing.
  [[nodiscard]] double direction() const { return direction_; }
  [[nodiscard]] const TapeTable& tapes() const { return *tapes_; }
  [[nodiscard]] const TapeWalk& walk() const { return walk_; }
  /// For laying out legs ahead.
  [[nodiscard]] TapeWalk& walk() { return walk_; }

  // ---- what is due ---------------------------------------------------------------------------
  /// When it stands again; of a drive.
  [[nodiscard]] double drive_ends() const { return profile_.end(); }
  /// When the reader is over the next point of the tape, if the present drive gets there.
  [[nodiscard]] std::optional<double> next_point() const;
  /// Never if it isn't turning.
  [[nodiscard]] double turn_ends() const { return turn_ends_; }

  // ---- what it does --------------------------------------------------------------------------
  /// Lifted and set with its reader over the point of this pose.
  void set_on(double now, PoseIx standing);
  /// Pushed, as it stands, until its reader is over the home point.
  void push_home();
  /// Sets off, or goes on from `speed`, over the stretches.
  void go(double now, double speed, std::span<const Stretch> stretches, double direction);
  /// True if it drove; else it stands already.
  bool brake(double now);
  void stand(double now);
  /// The reader is over the next point of the drive: that is home now.
  void pass_point();
  /// How far beyond the home point the reader must be to turn there, mm.
  [[nodiscard]] double turn_offset() const;
  /// Turns towards `move`, which must outlive the turn.
  void start_turning(double now, const floor::Move& move);
  void end_turning(double leg_factor);
  /// mm driven since last asked or, if that is later, since the present drive began.
  double take_driven(double now);

  /// Its body may have set off from a stand, or was moved by hand; for whoever asks next.
  void stir() { stirred_ = true; }
  bool take_stirred() { return std::exchange(stirred_, false); }

 private:
  enum class Doing { standing, driving, turning };
  [[nodiscard]] const floor::CartBody& measures() const { return tapes_->ways().floor().cart; }
  [[nodiscard]] DriveLimits limits() const;

  const TapeTable* tapes_;
  TapeWalk walk_;
  double top_speed_;
  Doing doing_{Doing::standing};
  DriveProfile profile_;
  double from_x_;
  double direction_{1};
  double taken_{0};  // of the present drive, by take_driven()
  Rectangle turn_from_, turn_to_;
  const floor::Move* turn_move_{nullptr};
  double turn_began_{0}, turn_ends_{never};
  bool stirred_{true};
};

}  // namespace tagline::sim
