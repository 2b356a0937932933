// Motion with constant accelerations: against the equations by hand and against its own physics.
#include "server/sim/drive_profile.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "server/sim/random.hpp"

namespace tagline::sim {
namespace {

constexpr DriveLimits usual{300, 600};

TEST(DriveProfile, TrapezoidByHand) {
  // 400 mm/s: 1.333 s and 266.67 mm up, 0.667 s and 133.33 mm down, 1600 mm between at 400 mm/s.
  DriveProfile p;
  const Stretch way[] = {{2000, 400}};
  p.drive(10, 0, way, usual);
  EXPECT_NEAR(p.end(), 10 + 4.0 / 3 + 1600.0 / 400 + 2.0 / 3, 1e-9);
  EXPECT_NEAR(p.distance(10 + 4.0 / 3), 800.0 / 3, 1e-9);
  EXPECT_NEAR(p.speed(12), 400, 1e-9);
  EXPECT_DOUBLE_EQ(p.distance(100), 2000);
  EXPECT_DOUBLE_EQ(p.speed(100), 0);
}

TEST(DriveProfile, ShortDriveNeverReachesItsSpeed) {
  // sqrt(2 L (a + d) / (a d)) with L = 90 mm: 0.9487 s.
  DriveProfile p;
  const Stretch way[] = {{90, 400}};
  p.drive(0, 0, way, usual);
  EXPECT_NEAR(p.end(), std::sqrt(2 * 90.0 * 900 / 180000), 1e-9);
}

TEST(DriveProfile, BrakesByTheBook) {
  DriveProfile p;
  p.brake(5, 300, usual);
  EXPECT_NEAR(p.end(), 5.5, 1e-12);
  EXPECT_NEAR(p.length(), 75, 1e-9);
  EXPECT_NEAR(p.distance(5.25), 300 * 0.25 - 600 * 0.0625 / 2, 1e-9);
}

// Any drive: speed never jumps, never beyond a limit, and always at one of the three limits (its
// speed's, its motor's, its brakes'): so no drive within the limits is faster.
TEST(DriveProfile, AnyDriveIsWithinLimitsAndAtOne) {
  Random random{7};
  for (int round = 0; round < 300; ++round) {
    std::vector<Stretch> way(1 + random.next() % 8);
    double length = 0;
    for (Stretch& s : way) {
      s = {random.between(5, 3000), random.between(50, 600)};
      length += s.length;
    }
    const DriveLimits limits{random.between(50, 900), random.between(50, 900)};
    // As fast as it may be going, should it have to stop at the end of all.
    const double start =
        std::min(way[0].limit, std::sqrt(2 * limits.deceleration * way[0].length)) *
        random.between(0, way.size() == 1 ? 0.99 : 0.3);
    DriveProfile p;
    p.drive(0, start, way, limits);
    ASSERT_NEAR(p.length(), length, 1e-6);
    ASSERT_NEAR(p.speed(0), start, 1e-9);
    const int steps = 2000;
    const double dt = p.end() / steps;
    double before = p.speed(0);
    for (int i = 1; i <= steps; ++i) {
      const double t = dt * i;
      const double v = p.speed(t);
      const double x = p.distance(t);
      // Where it is decides the limit.
      double to = 0;
      std::size_t s = 0;
      while (s + 1 < way.size() && x > to + way[s].length) to += way[s++].length;
      ASSERT_LE(v, way[s].limit + 1e-6) << round << " at " << t;
      ASSERT_LE(v - before, limits.acceleration * dt + 1e-6);
      ASSERT_GE(v - before, -limits.deceleration * dt - 1e-6);
      before = v;
      ASSERT_NEAR(p.time_at(x), i == steps ? p.end() : t, 1e-5) << round;
    }
    // Bang-bang: between the moments where the law changes the change of speed is one of three.
    int odd = 0;
    for (int i = 1; i < steps; ++i) {
      const double rate = (p.speed(dt * (i + 0.5)) - p.speed(dt * (i - 0.5))) / dt;
      const double x = p.distance(dt * i);
      double to = 0;
      std::size_t s = 0;
      while (s + 1 < way.size() && x > to + way[s].length) to += way[s++].length;
      const bool at_limit = std::abs(p.speed(dt * i) - way[s].limit) < 1e-6;
      const bool full = std::abs(rate - limits.acceleration) < 1e-3 * limits.acceleration ||
                        std::abs(rate + limits.deceleration) < 1e-3 * limits.deceleration;
      if (!at_limit && !full) ++odd;
    }
    EXPECT_LE(odd, static_cast<int>(3 * way.size() + 1)) << round;
  }
}

}  // namespace
}  // namespace tagline::sim
