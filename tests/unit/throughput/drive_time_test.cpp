// Driving times against the equations of uniformly accelerated motion, worked out by hand, and
// against a drive taken in small steps.
#include "server/floor/drive_time.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "tests/unit/throughput/least_drive.hpp"

namespace tagline::floor {
namespace {

CartBody cart(std::int64_t acceleration, std::int64_t deceleration) {
  CartBody body;
  body.acceleration = MmPerS2{acceleration};
  body.deceleration = MmPerS2{deceleration};
  return body;
}

TEST(DriveTime, ByHand) {
  const CartBody usual = cart(300, 600);
  // 2 m at 400 mm/s: 5 s, and 400/600 = 0.666 s and 400/1200 = 0.333 s more.
  EXPECT_EQ(stand_to_stand(Mm{2000}, MmPerS{400}, usual), Duration{5'999});
  EXPECT_EQ(lost_setting_off(MmPerS{400}, usual), Duration{666});
  EXPECT_EQ(lost_stopping(MmPerS{400}, usual), Duration{333});
  // The speed is just reached at 400^2/600 + 400^2/1200 = 400 mm: 2 s both ways of reckoning.
  EXPECT_EQ(stand_to_stand(Mm{400}, MmPerS{400}, usual), Duration{1'999});
  EXPECT_EQ(stand_to_stand(Mm{399}, MmPerS{400}, usual), Duration{1'997});  // 2 sqrt(399/400)
  // 100 mm: up to 200 mm/s in 2/3 s, down in 1/3 s.
  EXPECT_EQ(stand_to_stand(Mm{100}, MmPerS{400}, usual), Duration{1'000});
  EXPECT_EQ(stand_to_stand(Mm{0}, MmPerS{400}, usual), Duration{0});
  // 400^2 / 1200 = 133.3 mm.
  EXPECT_EQ(stopping_distance(MmPerS{400}, usual), Mm{134});
  EXPECT_EQ(stopping_distance(MmPerS{600}, usual), Mm{300});
}

TEST(DriveTime, OfTheLargestSizesDoesNotOverflow) {
  // 3 m/s over 200 m and over just less than it takes to reach it at 10 mm/s^2.
  EXPECT_EQ(stand_to_stand(Mm{200'000}, MmPerS{3000}, cart(10'000, 10'000)), Duration{66'966});
  EXPECT_NEAR(static_cast<double>(stand_to_stand(Mm{899'999}, MmPerS{3000}, cart(10, 10)).count()),
              2000 * std::sqrt(899'999.0 / 10), 2);
}

TEST(DriveTime, IsTheLeastOnOneSpeedToWithinRounding) {
  std::mt19937 random{1};
  const auto whole = [&](std::int64_t low, std::int64_t high) {
    return std::uniform_int_distribution<std::int64_t>{low, high}(random);
  };
  for (int round = 0; round < 150; ++round) {
    const CartBody body = cart(whole(50, 1500), whole(50, 1500));
    const std::int64_t length = whole(1, 5000);
    const std::int64_t speed = whole(50, 1500);
    const double least =
        1000 * test::least_drive({{static_cast<double>(length), static_cast<double>(speed)}}, body);
    const auto got = static_cast<double>(stand_to_stand(Mm{length}, MmPerS{speed}, body).count());
    EXPECT_LE(got, least + 1e-6);
    EXPECT_GE(got, least - 3);
  }
}

TEST(DriveTime, OfALegIsNeverAboveTheLeastAndEqualToItAtOneSpeed) {
  std::mt19937 random{2};
  const auto whole = [&](std::int64_t low, std::int64_t high) {
    return std::uniform_int_distribution<std::int64_t>{low, high}(random);
  };
  int mixed = 0;
  for (int round = 0; round < 150; ++round) {
    const CartBody body = cart(whole(100, 1000), whole(100, 1000));
    const bool one_speed = round % 2 == 0;
    std::int64_t speed = whole(100, 800);
    std::int64_t slowest = speed;
    Duration cruise{0};
    Mm length{0};
    std::vector<test::Stretch> leg;
    for (std::int64_t k = whole(1, 6); k > 0; --k) {
      const std::int64_t part = whole(100, 2000);
      leg.push_back({static_cast<double>(part), static_cast<double>(speed)});
      cruise += time_to_drive(Mm{part}, MmPerS{speed});
      length += Mm{part};
      slowest = std::min(slowest, speed);
      if (!one_speed) speed = whole(100, 800);
    }
    const double least = 1000 * test::least_drive(leg, body);
    const auto moves = static_cast<double>(leg.size());
    const auto got = static_cast<double>(leg_time(cruise, length, MmPerS{slowest}, body).count());
    EXPECT_LE(got, least + moves);
    if (one_speed) {
      EXPECT_GE(got, least - 5);
    }
    mixed += !one_speed && leg.size() > 1 ? 1 : 0;
  }
  EXPECT_GT(mixed, 30);
}

TEST(DriveTime, OfALegThatStartsSlowlyIsNotReckonedByItsFastestSpeed) {
  // 1 m at 300, then 1 m at 400: setting off costs 300/600 s = 500 ms; from 300 to 400 on the
  // second metre (400-300)^2 / (2 x 300 x 400) s = 42 ms; stopping 333 ms.
  const double least = 1000 * test::least_drive({{1000, 300}, {1000, 400}}, cart(300, 600));
  EXPECT_NEAR(least, 3333.3 + 2500 + 500 + 41.7 + 333.3, 0.2);
  const Duration got = leg_time(Duration{5'833}, Mm{2000}, MmPerS{300}, cart(300, 600));
  EXPECT_LE(static_cast<double>(got.count()), least);
}

}  // namespace
}  // namespace tagline::floor
