// Bodies and gaps: by hand, and against Boost.Geometry's polygon distance (Boost 1.81,
// boost::geometry::distance), a reference of its own.
#include "server/floor/body.hpp"

#include <gtest/gtest.h>

#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <cmath>
#include <numbers>
#include <random>

namespace tagline::floor {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
using BgPolygon = bg::model::polygon<BgPoint, false, true>;  // counter-clockwise, closed

BgPolygon to_boost(const Outline& outline) {
  BgPolygon polygon;
  for (const Position& c : outline.polygon()) bg::append(polygon.outer(), BgPoint{c.x, c.y});
  bg::append(polygon.outer(), BgPoint{outline.corners[0].x, outline.corners[0].y});
  return polygon;
}

CartBody body_600_400() {
  CartBody body;
  body.length = Mm{600};
  body.width = Mm{400};
  body.reader_to_nose = Mm{100};
  return body;
}

void expect_corner(const Position& corner, double x, double y) {
  EXPECT_NEAR(corner.x, x, 1e-9);
  EXPECT_NEAR(corner.y, y, 1e-9);
}

TEST(Body, OnStraightTapeReachesFromNoseToTail) {
  TapePath path;
  path.append(Polyline{{{0, 0}, {2000, 0}}, 2000});
  const Outline body = body_on(body_600_400(), path, 1000);
  ASSERT_EQ(body.count, 4u);
  expect_corner(body.corners[0], 500, -200);
  expect_corner(body.corners[1], 1100, -200);
  expect_corner(body.corners[2], 1100, 200);
  expect_corner(body.corners[3], 500, 200);
}

TEST(Body, InACornerLiesAlongTheChord) {
  // Reader 300 beyond a right-angled corner, tail 200 before it: the chord runs (200, 300).
  TapePath path;
  path.append(Polyline{{{0, 0}, {1000, 0}, {1000, 1000}}, 2000});
  const Outline body = body_on(body_600_400(), path, 1300);
  const double chord = std::hypot(200.0, 300.0);
  const double ux = 200 / chord;
  const double uy = 300 / chord;
  expect_corner(body.corners[1], 1000 + 100 * ux + 200 * uy, 300 + 100 * uy - 200 * ux);
  expect_corner(body.corners[3], 1000 - 500 * ux - 200 * uy, 300 - 500 * uy + 200 * ux);
}

TEST(Body, TakesTheHeadingWhereReaderAndTailCoincide) {
  const Outline body = body_outline(body_600_400(), {{0, 0}, std::numbers::pi / 2}, {{0, 0}, 0});
  expect_corner(body.corners[1], 200, 100);
  expect_corner(body.corners[3], -200, -500);
}

TEST(Body, NoseExtraReachesAheadOnly) {
  const Outline body = body_outline(body_600_400(), {{0, 0}, 0}, {{-500, 0}, 0}, 150);
  expect_corner(body.corners[0], -500, -200);
  expect_corner(body.corners[2], 250, 200);
}

TEST(Gap, OfKnownPairs) {
  const CartBody cart = body_600_400();
  const Outline a = body_outline(cart, {{0, 0}, 0}, {{-500, 0}, 0});
  const auto beside = [&](double x, double y) {
    return body_outline(cart, {{x, y}, 0}, {{x - 500, y}, 0});
  };
  EXPECT_NEAR(gap(a, beside(0, 500)), 100, 1e-9);
  EXPECT_NEAR(gap(a, beside(0, 400)), 0, 1e-9);
  EXPECT_NEAR(gap(a, beside(300, 300)), 0, 1e-9);
  EXPECT_NEAR(gap(a, beside(630, 440)), 50, 1e-9);  // corner to corner, 30 and 40 apart
  EXPECT_NEAR(gap(a, a), 0, 1e-9);
}

TEST(Gap, OfTurningCircles) {
  // A 3-4-5 cart: half its diagonal is 250.
  CartBody cart = body_600_400();
  cart.length = Mm{400};
  cart.width = Mm{300};
  const Outline circle = turning_circle(cart, {0, 0});
  EXPECT_NEAR(gap(circle, turning_circle(cart, {600, 0})), 100, 1e-9);
  EXPECT_NEAR(gap(circle, turning_circle(cart, {500, 0})), 0, 1e-9);
  // Reader at x = 800, tail at x = 500: body from 500 to 900.
  const Outline body = body_outline(cart, {{800, 0}, 0}, {{500, 0}, 0});
  EXPECT_NEAR(gap(circle, body), 250, 1e-9);
  EXPECT_NEAR(gap(body, circle), 250, 1e-9);
  EXPECT_NEAR(gap(turning_circle(cart, {700, 100}), body), 0, 1e-9);  // centre inside the body
}

TEST(Gap, EqualsThatOfBoostGeometry) {
  std::mt19937 random{20251125};
  std::uniform_real_distribution<double> place{-700, 700};
  std::uniform_real_distribution<double> angle{-std::numbers::pi, std::numbers::pi};
  int touching = 0;
  int apart = 0;
  for (int i = 0; i < 5000; ++i) {
    const auto any_body = [&] {
      const Spot reader{{place(random), place(random)}, 0};
      const double a = angle(random);
      return body_outline(body_600_400(), reader,
                          {{reader.at.x - std::cos(a), reader.at.y - std::sin(a)}, 0});
    };
    const Outline a = any_body();
    const Outline b = any_body();
    const double expected = bg::distance(to_boost(a), to_boost(b));
    ASSERT_NEAR(gap(a, b), expected, 1e-6) << "pair " << i;
    ++(expected == 0 ? touching : apart);
  }
  EXPECT_GT(touching, 500);
  EXPECT_GT(apart, 500);
}

}  // namespace
}  // namespace tagline::floor
