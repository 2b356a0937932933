// Bodies and the gaps between them: see body.hpp.
#include "server/floor/body.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tagline::floor {
namespace {

double gap_to_edge(Position p, Position a, Position b) {
  const double ex = b.x - a.x;
  const double ey = b.y - a.y;
  const double square = ex * ex + ey * ey;
  double part = 0;
  if (square > 0) part = std::clamp(((p.x - a.x) * ex + (p.y - a.y) * ey) / square, 0.0, 1.0);
  return std::hypot(p.x - a.x - part * ex, p.y - a.y - part * ey);
}

/// Some edge of `a` has all of `b` strictly on its outer side. Needs 3 corners or more.
bool edge_parts(std::span<const Position> a, std::span<const Position> b) {
  for (std::size_t i = 0; i < a.size(); ++i) {
    const Position& p = a[i];
    const Position& q = a[(i + 1) % a.size()];
    const bool all_outside = std::all_of(b.begin(), b.end(), [&](const Position& c) {
      return (q.x - p.x) * (c.y - p.y) - (q.y - p.y) * (c.x - p.x) < 0;
    });
    if (all_outside) return true;
  }
  return false;
}

double corners_to_edges(std::span<const Position> corners, std::span<const Position> polygon) {
  double least = std::numeric_limits<double>::infinity();
  for (const Position& corner : corners) {
    for (std::size_t i = 0; i < polygon.size(); ++i) {
      least = std::min(least, gap_to_edge(corner, polygon[i], polygon[(i + 1) % polygon.size()]));
    }
  }
  return least;
}

}  // namespace

double reader_to_tail(const CartBody& body) {
  return std::max(1.0, static_cast<double>((body.length - body.reader_to_nose).value));
}

Outline body_outline(const CartBody& body, const Spot& reader, const Spot& tail,
                     double nose_extra) {
  double ux = reader.at.x - tail.at.x;
  double uy = reader.at.y - tail.at.y;
  const double chord = std::hypot(ux, uy);
  if (chord > 1e-6) {
    ux /= chord;
    uy /= chord;
  } else {
    ux = std::cos(reader.heading);
    uy = std::sin(reader.heading);
  }
  const double half = static_cast<double>(body.width.value) / 2;
  const double ahead = static_cast<double>(body.reader_to_nose.value) + nose_extra;
  const double behind = -static_cast<double>((body.length - body.reader_to_nose).value);
  const auto corner = [&](double along, double left) {
    return Position{reader.at.x + along * ux - left * uy, reader.at.y + along * uy + left * ux};
  };
  return {{corner(behind, -half), corner(ahead, -half), corner(ahead, half), corner(behind, half)},
          4,
          0};
}

Outline body_on(const CartBody& body, const TapePath& path, double reader) {
  return body_outline(body, path.at(reader), path.at(reader - reader_to_tail(body)));
}

Outline turning_circle(const CartBody& body, Position point) {
  const double half_diagonal =
      std::hypot(static_cast<double>(body.length.value), static_cast<double>(body.width.value)) / 2;
  return {{point}, 1, half_diagonal};
}

double gap(const Outline& a, const Outline& b) {
  const bool may_overlap = a.count > 2 || b.count > 2;
  const bool parted = (a.count > 2 && edge_parts(a.polygon(), b.polygon())) ||
                      (b.count > 2 && edge_parts(b.polygon(), a.polygon()));
  if (may_overlap && !parted) return 0;
  const double apart = std::min(corners_to_edges(a.polygon(), b.polygon()),
                                corners_to_edges(b.polygon(), a.polygon()));
  return std::max(0.0, apart - a.round - b.round);
}

}  // namespace tagline::floor
