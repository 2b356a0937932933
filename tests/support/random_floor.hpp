// Floors made at random, for property tests: rings of tape that cross, part and merge, curves,
// two-way tape, spurs and spur chains, turn-round points, carts of all shapes. Equal seeds give
// equal floors. Nothing is promised about what can be driven on them: that is the point.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "tests/support/floor_builder.hpp"

namespace tagline::test {

struct RandomFloorSize {
  std::size_t points{12};
  /// Side of the square the points lie in, mm.
  double side{4000};
};

inline floor::Floor random_floor(std::uint32_t seed, RandomFloorSize size = {}) {
  std::mt19937 random{seed};
  const auto between = [&](double low, double high) {
    return low + (high - low) * static_cast<double>(random()) / 4294967296.0;
  };
  const auto chance = [&](double p) { return between(0, 1) < p; };
  const auto whole = [&](double low, double high) {
    return static_cast<std::int64_t>(std::floor(between(low, high)));
  };

  FloorBuilder builder;
  const std::int64_t length = whole(250, 1200);
  builder.cart(length, whole(150, 700), whole(0, static_cast<double>(length) / 2))
      .clearance(whole(0, 150));

  // Rings of 3 to 8 points, each round a centre of its own.
  std::vector<floor::Position> at;
  std::vector<std::string> names;
  std::size_t segments = 0;
  const auto name_of = [](const char* kind, std::size_t n) { return kind + std::to_string(n); };
  const auto join = [&](std::size_t from, std::size_t to) {
    builder.segment(name_of("S", segments++), names[from], names[to]);
    if (chance(0.4)) {
      const floor::Position middle{(at[from].x + at[to].x) / 2, (at[from].y + at[to].y) / 2};
      const double reach = std::hypot(at[to].x - at[from].x, at[to].y - at[from].y) / 3;
      builder.via({{middle.x + between(-reach, reach), middle.y + between(-reach, reach)}});
    }
    if (chance(0.15)) builder.two_way();
  };
  const auto add_point = [&](double x, double y) {
    names.push_back(name_of("P", names.size()));
    at.push_back({std::round(x), std::round(y)});
    builder.point(names.back(), at.back().x, at.back().y);
    if (chance(0.1)) builder.turn_round();
    return names.size() - 1;
  };
  while (names.size() < size.points) {
    const double x = between(0, size.side);
    const double y = between(0, size.side);
    const double radius = between(500, 1800);
    const auto corners = static_cast<std::size_t>(whole(3, 9));
    const double start = between(0, 2 * std::numbers::pi);
    const double way = chance(0.5) ? 1 : -1;
    const std::size_t first = names.size();
    for (std::size_t c = 0; c < corners; ++c) {
      const double angle = start + way * 2 * std::numbers::pi * static_cast<double>(c) /
                                       static_cast<double>(corners);
      add_point(x + radius * std::cos(angle), y + radius * std::sin(angle));
    }
    for (std::size_t c = 0; c < corners; ++c) join(first + c, first + (c + 1) % corners);
  }
  const std::size_t ring_points = names.size();
  const auto any_ring_point = [&] {
    return static_cast<std::size_t>(whole(0, static_cast<double>(ring_points)));
  };
  // Tape from ring to ring, and across them: between points that are not far apart.
  for (std::size_t from = 0; from < ring_points; ++from) {
    if (!chance(0.4)) continue;
    for (int attempt = 0; attempt < 200; ++attempt) {
      const std::size_t to = any_ring_point();
      const double apart = std::hypot(at[to].x - at[from].x, at[to].y - at[from].y);
      if (from != to && apart > 200 && apart < 5000) {
        join(from, to);
        break;
      }
    }
  }
  for (std::size_t i = 0; i < 1 + ring_points / 8; ++i) {
    std::size_t mouth = any_ring_point();
    const std::size_t depth = chance(0.3) ? 2 : 1;
    for (std::size_t d = 0; d < depth; ++d) {
      const double angle = between(0, 2 * std::numbers::pi);
      const double far = between(200, 1500);
      const std::size_t end =
          add_point(at[mouth].x + far * std::cos(angle), at[mouth].y + far * std::sin(angle));
      builder.segment(name_of("S", segments++), names[mouth], names[end]).spur();
      mouth = end;
    }
  }
  return builder.build();
}

}  // namespace tagline::test
