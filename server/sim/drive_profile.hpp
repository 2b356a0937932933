// How one body moves along its tape over time: exact stretches of constant acceleration. The
// textbook trapezoid per stretch (equations of uniformly accelerated motion), chained so that every
// speed limit is kept from its first mm on: brake for the slower stretch before it begins.
#pragma once

#include <limits>
#include <span>
#include <vector>

namespace tagline::sim {

/// A piece of the way ahead, mm, and the highest speed on it, mm/s; both > 0.
struct Stretch {
  double length{};
  double limit{};
};

/// Limits of a drive, mm/s2, both > 0.
struct DriveLimits {
  double acceleration{};
  double deceleration{};
};

/// Distances are counted from where the body was when the profile was made, times are the
/// simulation's, s.
class DriveProfile {
 public:
  /// Stands from `now` on.
  void stand(double now);
  /// Drives the stretches as fast as it may, from `speed` to a stand at the end of the last one.
  /// A speed above the limits is braked down as fast as it can be.
  void drive(double now, double speed, std::span<const Stretch> stretches, DriveLimits limits);
  /// Brakes to a stand.
  void brake(double now, double speed, DriveLimits limits);

  // `time` never before the profile began.
  [[nodiscard]] double distance(double time) const;
  [[nodiscard]] double speed(double time) const;
  /// When `distance` is reached; end() if that is the end of the drive or beyond.
  [[nodiscard]] double time_at(double distance) const;
  /// When it stands, and how far it has come by then.
  [[nodiscard]] double end() const { return end_; }
  [[nodiscard]] double length() const { return length_; }

 private:
  struct Phase {
    double time{}, distance{}, speed{}, acceleration{};
  };
  [[nodiscard]] const Phase& at(double time) const;
  /// Adds a phase of `acceleration` from `speed` over `distance`; gives the speed after it.
  void add(double distance, double speed, double acceleration, double after);

  std::vector<Phase> phases_;
  std::vector<double> entry_;  // scratch of drive()
  double end_{0}, length_{0};
};

}  // namespace tagline::sim
