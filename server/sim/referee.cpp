// Do two bodies touch: see referee.hpp.
#include "server/sim/referee.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace tagline::sim {
namespace {

using floor::Position;

Position minus(Position a, Position b) { return {a.x - b.x, a.y - b.y}; }
double dot(Position a, Position b) { return a.x * b.x + a.y * b.y; }

/// True if, seen along `axis`, the two rectangles are apart.
bool apart_along(Position axis, const Rectangle& a, const Rectangle& b) {
  const auto reach = [&](const Rectangle& r) {
    const Position across{-r.along.y, r.along.x};
    return std::abs(dot(axis, r.along)) * r.length / 2 + std::abs(dot(axis, across)) * r.width / 2;
  };
  return std::abs(dot(axis, minus(b.centre, a.centre))) > reach(a) + reach(b);
}

double to_edge(Position corner, Position from, Position to) {
  const Position edge = minus(to, from);
  const double square = dot(edge, edge);
  const double t = square > 0 ? std::clamp(dot(minus(corner, from), edge) / square, 0.0, 1.0) : 0.0;
  return std::hypot(corner.x - from.x - t * edge.x, corner.y - from.y - t * edge.y);
}

std::string place_line(std::chrono::milliseconds now, const SeenBody& a, const SeenBody& b,
                       double gap) {
  char text[200];
  std::snprintf(text, sizeof text,
                "%.2f s: %.*s at (%.0f, %.0f) and %.*s at (%.0f, %.0f), %.0f mm apart",
                static_cast<double>(now.count()) / 1000, static_cast<int>(a.cart.size()),
                a.cart.data(), a.body.centre.x, a.body.centre.y, static_cast<int>(b.cart.size()),
                b.cart.data(), b.body.centre.x, b.body.centre.y, gap);
  return text;
}

}  // namespace

std::array<Position, 4> Rectangle::corners() const {
  const Position across{-along.y, along.x};
  const auto corner = [&](double ahead, double left) {
    return Position{centre.x + along.x * ahead + across.x * left,
                    centre.y + along.y * ahead + across.y * left};
  };
  return {corner(length / 2, width / 2), corner(-length / 2, width / 2),
          corner(-length / 2, -width / 2), corner(length / 2, -width / 2)};
}

double free_space(const Rectangle& a, const Rectangle& b) {
  const Position a_across{-a.along.y, a.along.x};
  const Position b_across{-b.along.y, b.along.x};
  if (!apart_along(a.along, a, b) && !apart_along(a_across, a, b) && !apart_along(b.along, a, b) &&
      !apart_along(b_across, a, b)) {
    return 0;
  }
  const auto corners_a = a.corners();
  const auto corners_b = b.corners();
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < 4; ++i) {
    for (std::size_t j = 0; j < 4; ++j) {
      least = std::min(least, to_edge(corners_a[i], corners_b[j], corners_b[(j + 1) % 4]));
      least = std::min(least, to_edge(corners_b[i], corners_a[j], corners_a[(j + 1) % 4]));
    }
  }
  return least;
}

std::vector<std::pair<std::size_t, std::size_t>> Referee::look(
    std::chrono::milliseconds now, const std::vector<SeenBody>& bodies) {
  std::vector<std::pair<std::size_t, std::size_t>> fresh;
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    for (std::size_t j = i + 1; j < bodies.size(); ++j) {
      const Rectangle& a = bodies[i].body;
      const Rectangle& b = bodies[j].body;
      // Bodies farther apart than this can neither touch nor set a new least gap.
      const double round = (std::hypot(a.length, a.width) + std::hypot(b.length, b.width)) / 2;
      const double centres = std::hypot(a.centre.x - b.centre.x, a.centre.y - b.centre.y);
      if (centres - round > least_gap_ && touching_.empty()) continue;
      const double gap = free_space(a, b);
      const std::pair<std::string, std::string> names{bodies[i].cart, bodies[j].cart};
      if (gap < least_gap_) {
        least_gap_ = gap;
        least_gap_at_ = place_line(now, bodies[i], bodies[j], gap);
      }
      if (gap > 0) {
        touching_.erase(names);
      } else if (touching_.insert(names).second) {
        ++contacts_;
        if (first_contact_.empty()) first_contact_ = place_line(now, bodies[i], bodies[j], gap);
        fresh.emplace_back(i, j);
      }
    }
  }
  return fresh;
}

}  // namespace tagline::sim
