// Where every cart of a fast run is over the first stretch of it, for whoever draws it. Between two
// samples of a cart its body goes in a straight line and turns evenly, so few are enough; samples
// that this would give anyway are left out.
#pragma once

#include <cstddef>
#include <vector>

#include "server/sim/fleet_cart.hpp"

namespace tagline::sim {

/// What a cart was seen at.
struct Sighting {
  /// Since the run began, s.
  double at_s{};
  /// The middle of its body, mm.
  floor::Position centre;
  /// Where its nose points, degrees counter-clockwise from the x axis, above -180 to 180.
  double nose{};
  /// What it spends its time on, from then on.
  Spent doing{Spent::resting};
  bool loaded{false};
};

struct Movement {
  /// Every cart is known up to here, s.
  double until_s{};
  /// By cart, each in order of time. Two at one moment: it was put there by hand.
  std::vector<std::vector<Sighting>> carts;
};

class MovementRecorder {
 public:
  /// How far what was left out may be from where it is drawn then, mm and degrees.
  static constexpr double off_mm = 15, off_degrees = 2;

  struct Bounds {
    /// No longer than that, s, and with no more sightings of all carts together, but for the last
    /// few of each.
    double seconds{};
    std::size_t sightings{};
  };
  MovementRecorder(std::size_t carts, Bounds bounds);

  /// Something has just happened to this cart. `now` never goes back.
  void follow(CartIx ix, const FleetCart& cart, double now);
  /// The run is over.
  Movement end(double now);

 private:
  struct Line {
    std::vector<Sighting> kept;
    /// Since the last kept one: each left out so far.
    std::vector<Sighting> open;
    /// What it will be seen at unless something happens to it before.
    std::vector<Sighting> ahead;
  };
  /// What was foreseen up to `until` has come true, and nothing else of it will.
  void confirm(Line& line, double until);
  void add(Line& line, const Sighting& seen);
  void keep(Line& line, const Sighting& seen);

  Bounds bounds_;
  std::size_t kept_{0};
  /// Set once a bound is reached.
  bool full_{false};
  double until_s_{0};
  std::vector<Line> lines_;
};

}  // namespace tagline::sim
