// Tape as a curve on the floor plan: where it is, and which way it points, at a driven distance.
// Used to find conflicts (track.cpp), branches (ways.cpp), and by the simulator to place bodies.
#pragma once

#include <span>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::floor {

/// A place on the tape and the direction of travel there.
struct Spot {
  Position at;
  /// Radians, counter-clockwise from the x axis, in (-pi, pi].
  double heading{};
};

/// Smallest turn from heading `from` to heading `to`, radians in (-pi, pi]; left is positive.
double turn_between(double from, double to);

/// Distance between two places, mm.
double distance(Position a, Position b);

/// Straight legs from corner to corner, measured by driven distance. The driven length may differ
/// from the sum of the legs (segments[].length was measured on the floor, the drawing is coarser):
/// driven distance is then spread evenly over the drawing.
class Polyline {
 public:
  /// `corners`: at least one place; equal neighbours count once. `driven_length` in mm, > 0.
  Polyline(const std::vector<Position>& corners, double driven_length);

  /// Driven length, mm.
  [[nodiscard]] double length() const { return length_; }
  /// The spot after `driven` mm. Before 0 and beyond length() the tape is taken to go on
  /// straight, 1 mm on the plan per driven mm. At a corner: the heading of the leg after it.
  [[nodiscard]] Spot at(double driven) const;
  [[nodiscard]] double start_heading() const { return headings_.front(); }
  [[nodiscard]] double end_heading() const { return headings_.back(); }
  /// Driven distance of every corner, rising from 0 to length().
  [[nodiscard]] std::span<const double> corner_distances() const { return driven_; }

 private:
  double length_;
  std::vector<Position> corners_;
  std::vector<double> driven_;    // per corner
  std::vector<double> headings_;  // per leg; one 0 if the curve is a mere point
};

/// The tape of a segment in its direction of travel: from -> via -> to, or the other way round.
Polyline tape_of(const Floor& floor, SegmentIx segment, bool reversed = false);

/// Several tapes driven one after the other, measured from the start of the first one. Where one
/// ends and the next does not start (never so on a floor), the path jumps.
class TapePath {
 public:
  void append(Polyline tape);
  [[nodiscard]] bool empty() const { return tapes_.empty(); }
  [[nodiscard]] double length() const { return starts_.empty() ? 0.0 : end_; }
  /// As Polyline::at, straight on beyond either end. The path must not be empty.
  [[nodiscard]] Spot at(double driven) const;

 private:
  std::vector<Polyline> tapes_;
  std::vector<double> starts_;
  double end_{0};
};

}  // namespace tagline::floor
