// The body of a cart on the floor plan, and how far two bodies are apart.
//
// Assumed of every cart (common practice, no source): the tag reader and the tail end of the body
// both stay over the tape, the tail (length - reader_to_nose) of driven distance behind the
// reader; the body is a rectangle whose long axis runs through both; its nose is reader_to_nose
// beyond the reader. In a bend the body so cuts the corner as a chord does. Behind a point where
// the cart turned on the spot, the tail lies straight behind it. It turns with the centre of its
// body over the point, within the circle of half its diagonal.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "server/floor/floor.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::floor {

/// A convex figure with 1 to 4 corners in counter-clockwise order, grown by `round` all round: a
/// body (4 corners), or a circle (1 corner).
struct Outline {
  std::array<Position, 4> corners{};
  std::size_t count{0};
  double round{0};
  [[nodiscard]] std::span<const Position> polygon() const { return {corners.data(), count}; }
};

/// Driven distance from the reader back to the tail end of the body, mm; at least 1.
double reader_to_tail(const CartBody& body);

/// The rectangle of a body whose reader is at `reader` and whose tail end lies on the tape at
/// `tail`. Where the two coincide (a hairpin), the heading at the reader is taken.
/// `nose_extra`: the rectangle reaches that much further ahead, mm.
Outline body_outline(const CartBody& body, const Spot& reader, const Spot& tail,
                     double nose_extra = 0);

/// The body of a cart whose reader is `reader` mm along `path`. `path` should start at least
/// reader_to_tail() before that; if it does not, the tail is taken to lie straight behind it.
Outline body_on(const CartBody& body, const TapePath& path, double reader);

/// The circle a cart sweeps when it turns on the spot at `point`.
Outline turning_circle(const CartBody& body, Position point);

/// Free space between two outlines, mm; 0 when they touch or overlap.
/// Separating axes decide on overlap (Gottschalk, Lin, Manocha, "OBBTree", SIGGRAPH 1996); apart,
/// the nearest places of two convex polygons are a corner and an edge.
double gap(const Outline& a, const Outline& b);
/// Bodies exactly as far apart as the clearance are fine; this keeps rounding from deciding, mm.
constexpr double gap_rounding = 1e-3;

}  // namespace tagline::floor
