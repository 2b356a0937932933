// How much somebody may do: budgets over time, connections by address, wrong keys; and which
// version of a link is chosen among those offered.
#include <gtest/gtest.h>

#include <array>

#include "server/access/budget.hpp"
#include "server/net/crowd.hpp"
#include "server/net/subprotocol.hpp"
#include "server/net/wrong_keys.hpp"

namespace tagline::net::test {
namespace {

using namespace std::chrono_literals;

constexpr Budget::Time start{1'000'000s};

TEST(Budget, SoManyAtOnceThenTheAverage) {
  Budget budget({20, 100});
  EXPECT_TRUE(budget.is_full(start));
  for (int k = 0; k < 100; ++k) {
    ASSERT_TRUE(budget.has_room(start)) << k;
    budget.spend(start);
  }
  EXPECT_FALSE(budget.has_room(start));
  EXPECT_FALSE(budget.has_room(start + 49ms));
  EXPECT_TRUE(budget.has_room(start + 50ms));  // 1/20 s
  int taken = 0;
  for (auto now = start; now <= start + 10s; now += 1ms)
    for (; budget.has_room(now); budget.spend(now)) ++taken;
  EXPECT_EQ(taken, 200);
}

TEST(Budget, RecoversHalfAndThenWholly) {
  Budget budget({20, 101});
  for (int k = 0; k < 101; ++k) budget.spend(start);
  EXPECT_FALSE(budget.has_recovered(start + 2'500ms));
  EXPECT_TRUE(budget.has_recovered(start + 2'550ms));
  EXPECT_FALSE(budget.is_full(start + 5s));
  EXPECT_TRUE(budget.is_full(start + 5'050ms));
  // Whoever stays at the average does not recover.
  Budget steady({20, 101});
  for (int k = 0; k < 101; ++k) steady.spend(start);
  auto now = start;
  for (int k = 0; k < 1'000; ++k) steady.spend(now += 50ms);
  EXPECT_FALSE(steady.has_recovered(now));
}

TEST(Crowd, HasRoomForOthersWhateverOneAddressDoes) {
  Crowd crowd({.all = 6, .of_one_address = 4, .strangers = 4, .strangers_of_one_address = 3});
  std::vector<std::unique_ptr<Crowd::Place>> places;
  const auto enter = [&](const char* address) {
    auto place = crowd.enter(address);
    const bool in = place != nullptr;
    if (in) places.push_back(std::move(place));
    return in;
  };
  EXPECT_TRUE(enter("10.0.0.1"));
  EXPECT_TRUE(enter("10.0.0.1"));
  EXPECT_TRUE(enter("10.0.0.2"));
  EXPECT_TRUE(enter("10.0.0.2"));
  EXPECT_FALSE(enter("10.0.0.1"));  // four strangers in all
  places.pop_back();
  EXPECT_TRUE(enter("10.0.0.1"));
  EXPECT_FALSE(enter("10.0.0.1"));  // three strangers from there
  places[0]->settle();
  places[0]->settle();  // again: no difference
  EXPECT_TRUE(enter("10.0.0.1"));
  for (auto& place : places) place->settle();
  EXPECT_FALSE(enter("10.0.0.1"));  // four from there
  EXPECT_TRUE(enter("10.0.0.2"));
  EXPECT_FALSE(enter("10.0.0.3") && enter("10.0.0.3"));  // six in all
  EXPECT_EQ(crowd.size(), 6u);
  places.clear();
  EXPECT_EQ(crowd.size(), 0u);
  for (int k = 0; k < 3; ++k) EXPECT_TRUE(enter("10.0.0.1"));
}

TEST(Crowd, WhoSaysNothingWhereManyAreGoesForOneWhoComesFromElsewhere) {
  Crowd crowd({.all = 9, .of_one_address = 9, .strangers = 4, .strangers_of_one_address = 4});
  std::vector<std::unique_ptr<Crowd::Place>> places;
  std::vector<int> ended;
  const auto enter = [&](const char* address) {
    places.push_back(crowd.enter(address));
    if (!places.back()) return false;
    places.back()->end_by(
        [&ended, number = static_cast<int>(places.size()) - 1] { ended.push_back(number); });
    return true;
  };
  for (int k = 0; k < 4; ++k) EXPECT_TRUE(enter("10.0.0.1"));
  places[0]->settle();
  EXPECT_TRUE(enter("10.0.0.1"));  // number 4, four strangers again
  EXPECT_TRUE(enter("10.0.0.2"));  // for the oldest stranger there, who is number 1
  EXPECT_EQ(ended, (std::vector<int>{1}));
  EXPECT_TRUE(enter("10.0.0.3"));
  EXPECT_EQ(ended, (std::vector<int>{1, 2}));
  // Two from the first address, one from each of the others: whoever comes again has to wait.
  EXPECT_FALSE(enter("10.0.0.1"));
  EXPECT_FALSE(enter("10.0.0.2"));
  EXPECT_TRUE(enter("10.0.0.4"));
  EXPECT_EQ(ended, (std::vector<int>{1, 2, 3}));
}

TEST(WrongKeys, MakeTheirAddressSuspectForATime) {
  WrongKeys keys;
  for (int k = 0; k < 10; ++k) {
    EXPECT_FALSE(keys.suspect("10.0.0.1", start)) << k;
    keys.note("10.0.0.1", start);
  }
  EXPECT_TRUE(keys.suspect("10.0.0.1", start));
  EXPECT_FALSE(keys.suspect("10.0.0.2", start));
  EXPECT_TRUE(keys.suspect("10.0.0.1", start + 5s));
  EXPECT_FALSE(keys.suspect("10.0.0.1", start + 6s));
}

TEST(WrongKeys, ManyAddressesDoNotTakeMoreAndMore) {
  WrongKeys keys;
  for (int k = 0; k < 10; ++k) keys.note("first", start);
  for (std::size_t k = 1; k < WrongKeys::most_addresses; ++k)
    keys.note(std::to_string(k), start + 1s);
  EXPECT_TRUE(keys.suspect("first", start + 1s));
  keys.note("one too many", start + 1s);
  EXPECT_FALSE(keys.suspect("first", start + 1s));  // forgotten
}

TEST(Subprotocol, TheFirstOneOfferedThatIsSpoken) {
  constexpr std::array<std::string_view, 2> spoken{"a.1", "a.2"};
  EXPECT_EQ(choose_subprotocol({"a.3", "a.2", "a.1"}, spoken), "a.2");
  EXPECT_EQ(choose_subprotocol({"a.1", "a.2"}, spoken), "a.1");  // the client's order counts
  EXPECT_EQ(choose_subprotocol({"a.3", "A.1", "a.10", "a."}, spoken), std::nullopt);
  EXPECT_EQ(choose_subprotocol({}, spoken), std::nullopt);
}

}  // namespace
}  // namespace tagline::net::test
