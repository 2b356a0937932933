// Nobody guesses for long, and nobody keeps others out by guessing.
#include "server/access/attempts.hpp"

#include <gtest/gtest.h>

namespace tagline::access::test {
namespace {

using namespace std::chrono_literals;

constexpr Attempts::Time start{1'000'000s};

/// How many of `count` tries at one moment are looked at.
int looked_at(Attempts& attempts, const Attempts::Try& one, int count, Attempts::Time now) {
  int looked = 0;
  for (int k = 0; k < count; ++k) looked += attempts.begin(one, now) ? 0 : 1;
  return looked;
}

TEST(Attempts, AnAddressIsWrongTenTimesThenWaits) {
  Attempts attempts;
  int looked = 0;
  for (int k = 0; k < 30; ++k)
    looked += looked_at(attempts, {"10.0.0.1", "name" + std::to_string(k)}, 1, start);
  EXPECT_EQ(looked, 10);
  const auto wait = attempts.begin({"10.0.0.1", "name"}, start);
  ASSERT_TRUE(wait);
  EXPECT_EQ(*wait, 6s);
  EXPECT_FALSE(attempts.begin({"10.0.0.1", "name"}, start + 6s)) << "what was told holds";
  EXPECT_FALSE(attempts.begin({"10.0.0.2", "name"}, start)) << "another address is not concerned";
}

TEST(Attempts, ManyAddressesTogetherGuessAtOneAccountNoFaster) {
  Attempts attempts;
  int looked = 0;
  for (int k = 0; k < 500; ++k)
    looked += looked_at(attempts, {"10.0.1." + std::to_string(k), "anna"}, 3, start);
  EXPECT_EQ(looked, 10);
  // In an hour more, by as many addresses as it takes: two a minute.
  for (int s = 1; s <= 3600; ++s)
    looked += looked_at(attempts, {"10.1." + std::to_string(s), "anna"}, 1,
                        start + std::chrono::seconds(s));
  EXPECT_NEAR(looked, 130, 1);
}

TEST(Attempts, ABrowserThatIsKnownIsKeptOutByNobodyElse) {
  Attempts attempts;
  looked_at(attempts, {"10.0.0.1", "anna"}, 1'000, start);
  for (int k = 0; k < 1'000; ++k)
    looked_at(attempts, {"10.2." + std::to_string(k), "anna"}, 10, start);
  ASSERT_TRUE(attempts.begin({"10.0.0.1", "anna"}, start));
  // From the very address that the guesses come from, as behind a proxy.
  EXPECT_FALSE(attempts.begin({"10.0.0.1", "anna", "phone"}, start));
  // It has a limit, too: whoever stole the phone guesses no faster.
  EXPECT_EQ(looked_at(attempts, {"10.0.0.1", "anna", "phone"}, 100, start), 9);
  EXPECT_FALSE(attempts.begin({"10.0.0.1", "anna", "desk"}, start));
}

TEST(Attempts, TheRightPasswordCostsNothing) {
  Attempts attempts;
  for (int k = 0; k < 100; ++k) {
    const Attempts::Try one{"10.0.0.1", "anna"};
    ASSERT_FALSE(attempts.begin(one, start)) << k;
    attempts.succeeded(one, start);
  }
  // A whole works behind one proxy at the start of a shift.
  for (int k = 0; k < 100; ++k) {
    const Attempts::Try one{"10.0.0.1", "person" + std::to_string(k)};
    ASSERT_FALSE(attempts.begin(one, start)) << k;
    attempts.succeeded(one, start);
  }
}

TEST(Attempts, AFloodOfNamesMakesNobodysLimitForgotten) {
  Attempts attempts;
  EXPECT_EQ(looked_at(attempts, {"10.0.0.1", "anna"}, 20, start), 10);
  // One address: its own limit is spent, so it can't even bring in new names.
  for (int k = 0; k < 5'000; ++k)
    looked_at(attempts, {"10.0.0.1", "made up " + std::to_string(k)}, 1, start);
  EXPECT_EQ(looked_at(attempts, {"10.0.0.9", "anna"}, 5, start), 0);
}

TEST(Attempts, WithManyAddressesToo) {
  Attempts attempts;
  int looked = 0;
  for (int k = 0; k < 3 * static_cast<int>(Attempts::most_kept); ++k) {
    const std::string number = std::to_string(k);
    looked_at(attempts, {"10.3." + number, "made up " + number}, 1, start + k * 1ms);
    looked += looked_at(attempts, {"10.4." + number, "anna"}, 1, start + k * 1ms);
  }
  EXPECT_EQ(looked, 10) << "what is tried again and again is not what is forgotten";
}

}  // namespace
}  // namespace tagline::access::test
