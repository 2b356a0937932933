// One cart of a fast run, told things by hand.
#include "server/sim/fleet_cart.hpp"

#include <gtest/gtest.h>

#include "server/sim/fleet_figures.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::sim {
namespace {

using control::ToldAct;

class FleetCartTest : public ::testing::Test {
 protected:
  explicit FleetCartTest(floor::Floor its_floor = test::loop_with_bay())
      : floor(std::move(its_floor)), ways(floor), tapes(ways) {}

  [[nodiscard]] PoseIx pose(const char* at, const char* from) const {
    for (const PoseIx p : ways.poses_at(*floor.find_point(at))) {
      if (floor[ways.came_from(p)].id == from) return p;
    }
    throw std::invalid_argument(at);
  }
  FleetCart make(PoseIx at, CartNature nature = {}) {
    return {CartIx{0}, tapes, at, nature, Random{3}};
  }
  /// An authority over these poses from step `first` on.
  control::TellAuthority tell(control::Step first, const std::vector<PoseIx>& poses, ToldAct last) {
    control::TellAuthority told{{0}, 1, {}};
    for (std::size_t i = 0; i < poses.size(); ++i) {
      control::ToldPoint point{};
      point.step = first + i;
      point.point = ways[poses[i]].at;
      point.act = i + 1 == poses.size() ? last : ToldAct::go;
      point.speed = floor.cart.speed;
      if (i > 0) {
        const floor::Move& move = *ways.find_move(poses[i - 1], poses[i]);
        point.branch = move.branch;
        point.gear = move.gear;
        point.length = move.length;
        if (move.turn_round) told.points.back().act = ToldAct::turn;
      }
      told.points.push_back(point);
    }
    return told;
  }
  /// Wakes the cart whenever it wants to be, until `end`; what it says, with the times.
  std::vector<std::pair<double, control::Event>> run(FleetCart& cart, double end) {
    std::vector<std::pair<double, control::Event>> said;
    const auto take = [&](double now) {
      for (auto& event : cart.out()) said.emplace_back(now, event);
      cart.out().clear();
    };
    take(0);
    while (cart.due() <= end) {
      const double now = cart.due();
      cart.wake(now);
      take(now);
    }
    cart.account(end);
    return said;
  }
  template <class E>
  static std::vector<std::pair<double, E>> only(
      const std::vector<std::pair<double, control::Event>>& said) {
    std::vector<std::pair<double, E>> found;
    for (const auto& [at, event] : said) {
      if (const auto* e = std::get_if<E>(&event)) found.emplace_back(at, *e);
    }
    return found;
  }

  floor::Floor floor;
  floor::Ways ways;
  TapeTable tapes;
};

TEST_F(FleetCartTest, ReadsTagsAtTheExactTimesAndStandsOverTheLast) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A"), pose("C", "B")}, ToldAct::wait));
  const auto said = run(cart, 60);
  const auto reads = only<control::CartReads>(said);
  ASSERT_EQ(reads.size(), 2u);
  // 2000 mm at 400 mm/s from a stand: 5 s + v/2a; 4000 mm to a stand: 10 s + v/2a + v/2d.
  EXPECT_NEAR(reads[0].first, 5 + 2.0 / 3, 1e-9);
  EXPECT_EQ(reads[0].second.step, 2u);
  EXPECT_NEAR(reads[1].first, 10 + 2.0 / 3 + 1.0 / 3, 1e-9);
  EXPECT_EQ(reads[1].second.tag, floor[*floor.find_point("C")].tags.front());
  EXPECT_TRUE(cart.still());
  EXPECT_TRUE(cart.waits());
  EXPECT_NEAR(cart.driven_mm(), 4000, 1e-6);
  EXPECT_NEAR(cart.spent(Spent::empty), 11, 1e-9);
  EXPECT_NEAR(cart.spent(Spent::waiting), 49, 1e-9);
}

TEST_F(FleetCartTest, MoreAuthorityInTimeMeansNoBraking) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
  const double braking_begins = 2.0 / 3 + 5 - 1.0 / 3;
  while (cart.due() < 3) cart.wake(cart.due());
  cart.receive(braking_begins - 0.4,
               tell(1, {pose("A", "H"), pose("B", "A"), pose("C", "B")}, ToldAct::wait));
  const auto reads = only<control::CartReads>(run(cart, 60));
  ASSERT_EQ(reads.size(), 2u);
  EXPECT_NEAR(reads[1].first, 11, 1e-9);
}

TEST_F(FleetCartTest, AnOlderAuthorityIsIgnored) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A"), pose("C", "B")}, ToldAct::wait));
  cart.receive(1, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
  EXPECT_EQ(only<control::CartReads>(run(cart, 60)).size(), 2u);
}

TEST_F(FleetCartTest, TheBranchToldDecidesNotThePoint) {
  FleetCart cart = make(pose("D", "C"));
  auto told = tell(1, {pose("D", "C"), pose("H1", "D")}, ToldAct::stop);
  told.points[1].branch = ways.find_move(pose("D", "C"), pose("E", "D"))->branch;
  cart.receive(0, told);
  const auto reads = only<control::CartReads>(run(cart, 60));
  // It came to E, which isn't on its way: read without a step, and it stands with that fault.
  ASSERT_EQ(reads.size(), 1u);
  EXPECT_EQ(reads[0].second.tag, floor[*floor.find_point("E")].tags.front());
  EXPECT_EQ(reads[0].second.step, 0u);
  EXPECT_EQ(cart.fault(), control::Fault::wrong_tag);
  EXPECT_TRUE(cart.still());
}

TEST_F(FleetCartTest, AnUnreadTagInPassingIsMissedAndAtAStopIsAnOverrun) {
  FleetCart cart = make(pose("A", "H"), {.noise = 0, .miss_rate = 1, .battery = false});
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A"), pose("C", "B")}, ToldAct::wait));
  const auto said = run(cart, 60);
  EXPECT_TRUE(only<control::CartReads>(said).empty());
  EXPECT_EQ(cart.fault(), control::Fault::overrun);
  const auto reports = only<control::CartReports>(said);
  ASSERT_FALSE(reports.empty());
  EXPECT_EQ(reports.back().second.fault, control::Fault::overrun);
  EXPECT_NEAR(cart.driven_mm(), 4000 + figures::overrun_mm, 1e-6);
  // An authority that leads on from there ends it.
  cart.receive(
      60, tell(1, {pose("A", "H"), pose("B", "A"), pose("C", "B"), pose("D", "C")}, ToldAct::wait));
  EXPECT_EQ(cart.fault(), control::Fault::none);
  EXPECT_FALSE(cart.still());
}

TEST_F(FleetCartTest, AtAStopItTriesFourTimes) {
  int overrun = 0;
  const int tries = 4000;
  for (int i = 0; i < tries; ++i) {
    FleetCart cart(CartIx{0}, tapes, pose("A", "H"),
                   {.noise = 0, .miss_rate = 0.5, .battery = false},
                   Random{static_cast<std::uint64_t>(i) * 7919});
    cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
    run(cart, 30);
    if (cart.fault() == control::Fault::overrun) ++overrun;
  }
  // 0.5^4; three standard deviations of a binomial are 0.0115.
  EXPECT_NEAR(static_cast<double>(overrun) / tries, 0.0625, 0.0115);
}

TEST_F(FleetCartTest, HandlesOnceForTheStationsTime) {
  FleetCart cart = make(pose("A", "H"));
  const auto told = tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::load);
  cart.receive(0, told);
  cart.receive(1, told);
  const auto handled = only<control::CartHandled>(run(cart, 60));
  ASSERT_EQ(handled.size(), 1u);
  EXPECT_NEAR(handled[0].first, 6 + 15, 1e-9);
  EXPECT_EQ(handled[0].second.step, 2u);
  EXPECT_TRUE(cart.loaded());
  cart.receive(60, told);
  EXPECT_TRUE(only<control::CartHandled>(run(cart, 90)).empty());
}

TEST_F(FleetCartTest, StopsAtOnceAndGoesOnWhenReleased) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
  cart.receive(3, control::TellStop{{0}, ""});
  auto said = run(cart, 20);
  EXPECT_EQ(only<control::CartStopped>(said).size(), 1u);
  EXPECT_TRUE(cart.still());
  // 3 s: 400 x (3 - 2/3) mm, and v^2 / 2d to stand.
  EXPECT_NEAR(cart.driven_mm(), 400 * (3 - 2.0 / 3) + 400.0 * 400 / 1200, 1e-6);
  cart.receive(20, control::TellRelease{{0}});
  EXPECT_EQ(only<control::CartReads>(run(cart, 60)).size(), 1u);
}

TEST_F(FleetCartTest, ABlockedCartSaysSoAndGoesOnASecondAfterTheWayIsFree) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
  cart.block(3, 13);
  const auto said = run(cart, 60);
  std::vector<std::pair<double, bool>> blocked;
  for (const auto& [at, report] : only<control::CartReports>(said)) {
    const bool is = report.fault == control::Fault::blocked;
    if (blocked.empty() || blocked.back().second != is) blocked.emplace_back(at, is);
  }
  ASSERT_EQ(blocked.size(), 3u);
  EXPECT_NEAR(blocked[1].first, 5, 1e-9);
  EXPECT_NEAR(blocked[2].first, 14, 1e-9);
  EXPECT_EQ(only<control::CartReads>(said).size(), 1u);
}

TEST_F(FleetCartTest, ResetForgetsTheWay) {
  FleetCart cart = make(pose("A", "H"));
  cart.receive(0, tell(1, {pose("A", "H"), pose("B", "A")}, ToldAct::wait));
  cart.receive(2, control::TellReset{{0}});
  run(cart, 20);
  EXPECT_TRUE(cart.still());
  EXPECT_EQ(cart.greeting(20).step, 0u);
  EXPECT_EQ(cart.greeting(20).until, 0u);
}

class SpurCartTest : public FleetCartTest {
 protected:
  SpurCartTest() : FleetCartTest(test::spur()) {}
};

TEST_F(SpurCartTest, BacksOutOfAChainOfSpurs) {
  const PoseIx b = pose("B", "A");
  PoseIx k1{}, k2{};
  for (const floor::Move& m : ways.moves_from(b)) {
    if (floor[ways[m.to].at].id == "K1") k1 = m.to;
  }
  for (const floor::Move& m : ways.moves_from(k1)) {
    if (floor[ways[m.to].at].id == "K2") k2 = m.to;
  }
  FleetCart cart = make(pose("A", "F"), {});
  cart.receive(0, tell(1, {pose("A", "F"), b, k1, k2, k1, b, pose("C", "B")}, ToldAct::wait));
  const auto reads = only<control::CartReads>(run(cart, 200));
  ASSERT_EQ(reads.size(), 6u);
  for (std::size_t i = 0; i < reads.size(); ++i) EXPECT_EQ(reads[i].second.step, i + 2);
  const double there = cart.driven_mm();
  const double spurs =
      2 * static_cast<double>((floor[ways[k1].by].length + floor[ways[k2].by].length).value);
  EXPECT_NEAR(there, 6000 + spurs, 1e-6);
  // It stands in C with its tail on BC, nose to the right.
  EXPECT_NEAR(cart.body(200).along.x, 1, 1e-9);
  EXPECT_NEAR(cart.body(200).centre.x, 6000 - 300 + 100, 1e-6);
}

class CorridorCartTest : public FleetCartTest {
 protected:
  CorridorCartTest() : FleetCartTest(test::corridor()) {}
};

TEST_F(CorridorCartTest, TurnsOnTheSpotAboutItsMiddle) {
  FleetCart cart = make(pose("R", "Q"));
  cart.receive(0, tell(1, {pose("R", "Q"), pose("T", "R"), pose("R", "T")}, ToldAct::wait));
  const auto at_tag = only<control::CartReads>(run(cart, 8));
  ASSERT_EQ(at_tag.size(), 1u);
  // Well within the turn the middle of the body is over T.
  const auto said = run(cart, 11);
  ASSERT_TRUE(cart.turning());
  EXPECT_NEAR(cart.body(11).centre.x, 4500, 1e-6);
  EXPECT_NEAR(cart.body(11).centre.y, -7500, 1e-6);
  const auto reads = only<control::CartReads>(run(cart, 60));
  ASSERT_EQ(reads.size(), 1u);
  EXPECT_EQ(reads[0].second.step, 3u);
  EXPECT_NEAR(cart.body(60).along.y, 1, 1e-9);
  // Past T by the offset and back to it: the same 2500 mm each way.
  EXPECT_NEAR(cart.driven_mm(), 5000, 1e-6);
}

}  // namespace
}  // namespace tagline::sim
