// The referee against places worked out by hand.
#include "server/sim/referee.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace tagline::sim {
namespace {

using std::chrono::milliseconds;

Rectangle rectangle(double x, double y, double degrees, double length = 600, double width = 400) {
  const double a = degrees * std::acos(-1.0) / 180;
  return {{x, y}, {std::cos(a), std::sin(a)}, length, width};
}

TEST(FreeSpace, SideBySideAndInLine) {
  EXPECT_NEAR(free_space(rectangle(0, 0, 0), rectangle(1000, 0, 0)), 400, 1e-9);
  EXPECT_NEAR(free_space(rectangle(0, 0, 0), rectangle(0, 450, 180)), 50, 1e-9);
  EXPECT_NEAR(free_space(rectangle(0, 0, 0), rectangle(900, 800, 0)), 500, 1e-9);  // 300, 400, 500
}

TEST(FreeSpace, ACornerAgainstASide) {
  // Turned by 45 degrees the body reaches (600 + 400) / 2 / sqrt(2) towards the other.
  const double reach = 500 / std::sqrt(2.0);
  EXPECT_NEAR(free_space(rectangle(0, 0, 0), rectangle(300 + reach + 37, 0, 45)), 37, 1e-9);
  EXPECT_NEAR(free_space(rectangle(300 + reach + 37, 0, 45), rectangle(0, 0, 0)), 37, 1e-9);
}

TEST(FreeSpace, CrossedBodiesTouchThoughNoCornerIsInside) {
  EXPECT_EQ(free_space(rectangle(0, 0, 0, 1000, 100), rectangle(0, 0, 90, 1000, 100)), 0);
  EXPECT_EQ(free_space(rectangle(0, 0, 0), rectangle(10, 10, 30, 100, 50)), 0) << "one in another";
}

TEST(FreeSpace, DiagonalNeighboursWhoseBoxesOverlapAreApart) {
  // Two thin bodies at 45 degrees, side by side: their upright boxes overlap, they don't.
  const double d = 100 / std::sqrt(2.0);
  EXPECT_NEAR(free_space(rectangle(0, 0, 45, 1000, 20), rectangle(d, -d, 45, 1000, 20)), 80, 1e-9);
}

TEST(Referee, CountsAContactOnceAndSaysWhere) {
  Referee referee;
  const auto look = [&](double x, int ms) {
    return referee.look(milliseconds{ms},
                        {{"cart-1", rectangle(0, 0, 0)}, {"cart-2", rectangle(x, 0, 0)}});
  };
  EXPECT_TRUE(look(700, 20).empty());
  EXPECT_EQ(referee.contacts(), 0u);
  EXPECT_DOUBLE_EQ(referee.least_gap(), 100);
  EXPECT_EQ(look(590, 40).size(), 1u);
  EXPECT_TRUE(look(580, 60).empty()) << "the same contact";
  EXPECT_EQ(referee.contacts(), 1u);
  EXPECT_EQ(referee.least_gap(), 0);
  EXPECT_NE(referee.first_contact().find("0.04 s: cart-1 at (0, 0) and cart-2 at (590, 0)"),
            std::string::npos)
      << referee.first_contact();
  look(800, 80);
  EXPECT_EQ(look(590, 100).size(), 1u) << "apart, then again";
  EXPECT_EQ(referee.contacts(), 2u);
}

TEST(Referee, SeesEveryPair) {
  Referee referee;
  std::vector<SeenBody> bodies;
  const std::vector<std::string> names{"a", "b", "c", "d"};
  for (std::size_t i = 0; i < 4; ++i) {
    bodies.push_back({names[i], rectangle(0, static_cast<double>(i) * 5000, 0)});
  }
  EXPECT_TRUE(referee.look(milliseconds{20}, bodies).empty());
  bodies[3].body.centre.y = bodies[1].body.centre.y + 390;
  const auto fresh = referee.look(milliseconds{40}, bodies);
  ASSERT_EQ(fresh.size(), 1u);
  EXPECT_EQ(fresh[0], (std::pair<std::size_t, std::size_t>{1, 3}));
}

}  // namespace
}  // namespace tagline::sim
