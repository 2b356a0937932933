// Curves of tape: places and headings worked out by hand.
#include "server/floor/polyline.hpp"

#include <gtest/gtest.h>

#include <numbers>
#include <stdexcept>

#include "tests/support/floor_builder.hpp"

namespace tagline::floor {
namespace {

constexpr double pi = std::numbers::pi;

void expect_at(const Spot& spot, double x, double y, double heading) {
  EXPECT_NEAR(spot.at.x, x, 1e-6);
  EXPECT_NEAR(spot.at.y, y, 1e-6);
  EXPECT_NEAR(spot.heading, heading, 1e-9);
}

TEST(Polyline, FollowsItsLegs) {
  const Polyline tape{{{0, 0}, {300, 0}, {300, 400}}, 700};
  expect_at(tape.at(0), 0, 0, 0);
  expect_at(tape.at(100), 100, 0, 0);
  expect_at(tape.at(300), 300, 0, pi / 2);
  expect_at(tape.at(500), 300, 200, pi / 2);
  expect_at(tape.at(700), 300, 400, pi / 2);
  EXPECT_DOUBLE_EQ(tape.start_heading(), 0);
  EXPECT_DOUBLE_EQ(tape.end_heading(), pi / 2);
}

TEST(Polyline, GoesOnStraightBeyondBothEnds) {
  const Polyline tape{{{0, 0}, {300, 0}, {300, 400}}, 700};
  expect_at(tape.at(-50), -50, 0, 0);
  expect_at(tape.at(760), 300, 460, pi / 2);
}

TEST(Polyline, SpreadsADrivenLengthThatDiffersFromTheDrawing) {
  const Polyline tape{{{0, 0}, {300, 0}, {300, 400}}, 1400};
  expect_at(tape.at(200), 100, 0, 0);
  expect_at(tape.at(1000), 300, 200, pi / 2);
  ASSERT_EQ(tape.corner_distances().size(), 3u);
  EXPECT_DOUBLE_EQ(tape.corner_distances()[1], 600);
  EXPECT_DOUBLE_EQ(tape.corner_distances()[2], 1400);
}

TEST(Polyline, CountsEqualNeighboursOnce) {
  const Polyline tape{{{0, 0}, {0, 0}, {0, -500}, {0, -500}}, 500};
  expect_at(tape.at(250), 0, -250, -pi / 2);
  EXPECT_DOUBLE_EQ(tape.start_heading(), -pi / 2);
  EXPECT_DOUBLE_EQ(tape.end_heading(), -pi / 2);
}

TEST(Polyline, OfOnePlaceStaysThere) {
  const Polyline tape{{{7, 8}, {7, 8}}, 100};
  expect_at(tape.at(50), 7, 8, 0);
  expect_at(tape.at(-10), -3, 8, 0);
}

TEST(Polyline, RefusesNothingness) {
  EXPECT_THROW((Polyline{{}, 1}), std::invalid_argument);
  EXPECT_THROW((Polyline{{{0, 0}, {1, 0}}, 0}), std::invalid_argument);
}

TEST(Polyline, OfASegmentRunsEitherWay) {
  const Floor floor = test::FloorBuilder{}
                          .point("A", 0, 0)
                          .point("B", 300, 400)
                          .segment("S", "A", "B")
                          .via({{300, 0}})
                          .build();
  EXPECT_EQ(floor.segments[0].length, Mm{700});
  expect_at(tape_of(floor, SegmentIx{0}).at(100), 100, 0, 0);
  expect_at(tape_of(floor, SegmentIx{0}, true).at(100), 300, 300, -pi / 2);
}

TEST(TurnBetween, IsTheShortWayRoundAndLeftIsPositive) {
  EXPECT_NEAR(turn_between(0, pi / 2), pi / 2, 1e-12);
  EXPECT_NEAR(turn_between(pi / 2, 0), -pi / 2, 1e-12);
  EXPECT_NEAR(turn_between(3, -3), 2 * pi - 6, 1e-12);
  EXPECT_NEAR(turn_between(0, pi), pi, 1e-12);
  EXPECT_NEAR(turn_between(pi, 0), pi, 1e-12);
}

TEST(TapePath, RunsThroughItsTapes) {
  TapePath path;
  path.append(Polyline{{{0, 0}, {100, 0}}, 100});
  path.append(Polyline{{{100, 0}, {100, 200}}, 200});
  EXPECT_DOUBLE_EQ(path.length(), 300);
  expect_at(path.at(-20), -20, 0, 0);
  expect_at(path.at(60), 60, 0, 0);
  expect_at(path.at(100), 100, 0, pi / 2);
  expect_at(path.at(250), 100, 150, pi / 2);
  expect_at(path.at(320), 100, 220, pi / 2);
}

}  // namespace
}  // namespace tagline::floor
