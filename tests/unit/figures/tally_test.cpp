// What carts' time goes into, added up; against sums made another way: second by second.
#include "server/figures/tally.hpp"

#include <gmock/gmock.h>

#include <map>
#include <random>
#include <tuple>

#include "tests/support/floor_builder.hpp"

namespace tagline::figures::test {
namespace {

using control::CartMode;
using testing::ElementsAre;

Instant second(std::int64_t s) { return Instant{Duration{s * 1'000}}; }

/// Two ways come together at M.
floor::Floor two_ways() {
  return tagline::test::FloorBuilder{}
      .point("A", 0, 0)
      .point("B", 0, 4'000)
      .point("M", 4'000, 0)
      .point("E", 8'000, 0)
      .segment("S1", "A", "M")
      .segment("S2", "B", "M")
      .segment("S3", "M", "E")
      .build();
}

class TallyTest : public testing::Test {
 protected:
  static control::CartView cart(std::uint32_t which, CartMode mode) {
    control::CartView view;
    view.cart = CartIx{which};
    view.mode = mode;
    view.connected = true;
    return view;
  }
  control::CartView waits_for(std::uint32_t which, const char* segment) const {
    control::CartView view = cart(which, CartMode::waiting);
    view.waits_for = control::WaitsFor{
        track_.piece(*floor_.find_segment(segment)), std::nullopt, {}, false, false};
    return view;
  }
  static Duration of(const Sums& sums, std::uint32_t which, Use use, std::int64_t quarter_s) {
    Duration time{};
    for (const CartTime& one : sums.carts)
      if (one.cart.value == which && one.use == use && one.quarter == second(quarter_s))
        time += one.time;
    return time;
  }

  const floor::Floor floor_ = two_ways();
  const floor::Ways ways_{floor_};
  const floor::Track track_{ways_};
  Tally tally_{track_, 3};
};

TEST_F(TallyTest, QuartersAreFullOnes) {
  EXPECT_EQ(quarter_of(second(899)), second(0));
  EXPECT_EQ(quarter_of(second(900)), second(900));
}

TEST_F(TallyTest, EveryModeCountsForOneUse) {
  const std::pair<CartMode, Use> uses[] = {
      {CartMode::driving, Use::moving},    {CartMode::waiting, Use::waiting},
      {CartMode::handling, Use::handling}, {CartMode::charging, Use::charging},
      {CartMode::idle, Use::idle},         {CartMode::off_floor, Use::out},
      {CartMode::in_doubt, Use::out},      {CartMode::needs_release, Use::out}};
  for (const auto& [mode, use] : uses) EXPECT_EQ(use_of(cart(0, mode)), use) << word(use);
  control::CartView lost = cart(0, CartMode::driving);
  lost.connected = false;
  EXPECT_EQ(use_of(lost), Use::out);
  control::CartView blocked = cart(0, CartMode::driving);
  blocked.fault = control::Fault::blocked;
  EXPECT_EQ(use_of(blocked), Use::out);
  for (const Use use : all_uses) EXPECT_EQ(use_from(word(use)), use);
}

TEST_F(TallyTest, TimeIsPartedAtTheQuarterAndTakenOnce) {
  tally_.see(second(800), cart(1, CartMode::driving));
  tally_.see(second(1'000), cart(1, CartMode::idle));
  Sums sums = tally_.take(second(1'900));
  EXPECT_EQ(of(sums, 1, Use::moving, 0), Duration{100'000});
  EXPECT_EQ(of(sums, 1, Use::moving, 900), Duration{100'000});
  EXPECT_EQ(of(sums, 1, Use::idle, 900), Duration{800'000});
  EXPECT_EQ(of(sums, 1, Use::idle, 1'800), Duration{100'000});
  sums = tally_.take(second(1'910));
  ASSERT_EQ(sums.carts.size(), 1u) << "what was taken is not taken again";
  EXPECT_EQ(of(sums, 1, Use::idle, 1'800), Duration{10'000});
  EXPECT_TRUE(tally_.take(second(1'910)).empty());
}

TEST_F(TallyTest, AMomentThatComesLateTakesNoTimeBack) {
  tally_.see(second(10), cart(0, CartMode::driving));
  (void)tally_.take(second(20));
  tally_.see(second(19), cart(0, CartMode::idle));
  const Sums sums = tally_.take(second(25));
  EXPECT_EQ(of(sums, 0, Use::moving, 0), Duration{});
  EXPECT_EQ(of(sums, 0, Use::idle, 0), Duration{5'000});
}

TEST_F(TallyTest, WaitsForTheTrackOfAMergeAreThatMergesAndCountedOnce) {
  tally_.see(second(0), waits_for(0, "S1"));
  tally_.see(second(30), waits_for(0, "S3"));  // another piece of the same merge
  tally_.see(second(40), cart(0, CartMode::driving));
  tally_.see(second(50), waits_for(0, "S2"));
  tally_.see(second(60), cart(0, CartMode::handling));
  tally_.see(second(0), cart(1, CartMode::waiting));  // for nothing that is known
  const Sums sums = tally_.take(second(70));
  ASSERT_EQ(sums.merges.size(), 1u);
  EXPECT_EQ(floor_[sums.merges[0].merge].id, "M");
  EXPECT_EQ(sums.merges[0].waits, 2);
  EXPECT_EQ(sums.merges[0].time, Duration{50'000});
  EXPECT_EQ(of(sums, 0, Use::waiting, 0), Duration{50'000});
  EXPECT_EQ(of(sums, 1, Use::waiting, 0), Duration{70'000});
}

TEST_F(TallyTest, EqualsACountSecondBySecond) {
  std::mt19937 chance(20'261'126);
  const auto pick = [&](int below) {
    return std::uniform_int_distribution<int>(0, below - 1)(chance);
  };
  constexpr std::int64_t end = 4 * 3'600;
  std::map<std::tuple<std::int64_t, std::uint32_t, Use>, std::int64_t> counted, summed;
  std::map<std::int64_t, std::int64_t> merge_counted, merge_summed;
  std::vector<std::optional<control::CartView>> shown(3);
  const auto take = [&](std::int64_t at) {
    const Sums sums = tally_.take(second(at));
    for (const CartTime& one : sums.carts)
      summed[{one.quarter.time_since_epoch().count() / 1'000, one.cart.value, one.use}] +=
          one.time.count() / 1'000;
    for (const MergeWait& one : sums.merges)
      merge_summed[one.quarter.time_since_epoch().count() / 1'000] += one.time.count() / 1'000;
  };
  for (std::int64_t s = 0; s < end; ++s) {
    for (std::uint32_t k = 0; k < 3; ++k) {
      if (pick(40) != 0) continue;
      control::CartView view = pick(3) == 0 ? waits_for(k, pick(2) == 0 ? "S1" : "S2")
                                            : cart(k, static_cast<CartMode>(pick(8)));
      view.connected = pick(10) != 0;
      tally_.see(second(s), view);
      shown[k] = view;
    }
    if (pick(100) == 0) take(s);
    for (std::uint32_t k = 0; k < 3; ++k) {
      if (!shown[k]) continue;
      const Use use = use_of(*shown[k]);
      ++counted[{s / 900 * 900, k, use}];
      if (use == Use::waiting && shown[k]->waits_for) ++merge_counted[s / 900 * 900];
    }
  }
  take(end);
  EXPECT_GT(counted.size(), 200u);
  EXPECT_EQ(summed, counted);
  EXPECT_EQ(merge_summed, merge_counted);
}

}  // namespace
}  // namespace tagline::figures::test
