// Obeying an authority: where the cart slows, stops, acts and what it tells.
#include <gmock/gmock.h>

#include "tests/unit/cart_logic/rail.hpp"

namespace tagline::cart::test {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::Gt;
using testing::Lt;

TEST(Driving, NothingMovesBeforeAnAuthority) {
  Rail rail;
  rail.run(10);
  EXPECT_EQ(rail.at, 0);
  EXPECT_EQ(rail.logic.passed(), 0u);
  EXPECT_EQ(rail.logic.until(), 0u);
  EXPECT_TRUE(rail.events.empty());
}

TEST(Driving, StopsAtTheEndsTagAfterCreeping) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 2000}, {3, 3000, Act::stop}}));
  rail.run(40);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_THAT(rail.at, AllOf(Gt(5000 - window - 10), Lt(5000 + window)));
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3));
  EXPECT_EQ(rail.top_speed, 400) << "it never slows for a point it may pass";
  EXPECT_EQ(rail.speed_at[uid(2)], 400);
  EXPECT_LE(rail.speed_at[uid(3)], 101) << "it creeps over the end's tag";
  EXPECT_EQ(rail.logic.passed(), 3u);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
}

TEST(Driving, TheApproachIsNotMuchSlowerThanTheBrakesAllow) {
  // Least time for 5 m from stand to stand: accelerate at 300, drive at 400, brake at 600 mm/s2:
  // 5000/400 + 400/(2*300) + 400/(2*600) = 13.5 s (kinematics). Creeping over about 180 mm at 100
  // mm/s costs about 1.4 s more.
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 5000, Act::stop}}));
  double seconds = 0;
  do {
    rail.run(0.02);
    seconds += 0.02;
  } while ((rail.speed > 0 || rail.at < 100) && seconds < 60);
  EXPECT_GE(seconds, 13.4);
  EXPECT_LE(seconds, 13.5 + 2.0);
}

TEST(Driving, KeepsTheSpeedOfEachSegment) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0},
                         {2, 2000},
                         {3, 2000, Act::go, Gear::forward, Branch::straight, 150},
                         {4, 2000, Act::stop}}));
  rail.run(60);
  EXPECT_LE(rail.speed_at[uid(2)], 160) << "slowed down before the slow segment";
  EXPECT_EQ(rail.top_speed, 400);
  EXPECT_EQ(rail.logic.passed(), 4u);
}

TEST(Driving, LongerAuthorityInTimeMeansNoSlowingDown) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 2000}, {3, 2000, Act::wait}}));
  rail.run(6.5);
  ASSERT_EQ(rail.logic.passed(), 2u);
  rail.tags[uid(4)] = 6000;
  ASSERT_TRUE(rail.tell({{2, 0}, {3, 2000}, {4, 2000, Act::stop}}));
  rail.run(30);
  EXPECT_EQ(rail.speed_at[uid(3)], 400);
  EXPECT_EQ(rail.logic.passed(), 4u);
}

TEST(Driving, GoesOnFromAWaitWhenTheAuthorityGrows) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::wait}}));
  rail.run(15);
  ASSERT_EQ(rail.speed, 0);
  rail.tags[uid(3)] = 2000;
  ASSERT_TRUE(rail.tell({{2, 0}, {3, 1000, Act::stop}}));
  rail.run(15);
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3));
  EXPECT_EQ(rail.speed, 0);
}

TEST(Driving, AnOlderOrShorterAuthorityChangesNothing) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000}, {3, 1000, Act::stop}}));
  EXPECT_FALSE(rail.tell({{1, 0}, {2, 1000, Act::stop}}));
  EXPECT_EQ(rail.logic.until(), 3u);
  rail.run(20);
  EXPECT_EQ(rail.logic.passed(), 3u);
  // The same one again, late, and one that begins ahead of the cart.
  EXPECT_TRUE(rail.tell({{1, 0}, {2, 1000}, {3, 1000, Act::stop}}));
  EXPECT_FALSE(rail.tell({{4, 0}, {5, 1000, Act::stop}}));
  rail.run(5);
  EXPECT_EQ(rail.logic.passed(), 3u);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3));
}

TEST(Driving, AMissedTagIsPassedByAndCounted) {
  Rail rail;
  rail.dirty = {uid(2), uid(3)};
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1500}, {3, 1500}, {4, 1500}, {5, 1500, Act::stop}}));
  rail.run(40);
  EXPECT_THAT(rail.reads(), ElementsAre(4, 5));
  EXPECT_EQ(rail.logic.missed(), 2);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
  EXPECT_LE(rail.speed_at[uid(5)], 101);
}

TEST(Driving, APointWithoutATagIsNoMissedTag) {
  Rail rail;
  rail.untagged = {2};
  rail.dirty = {uid(2), uid(3)};
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1500}, {3, 1500}, {4, 1500, Act::stop}}));
  rail.run(30);
  EXPECT_THAT(rail.reads(), ElementsAre(4));
  EXPECT_EQ(rail.logic.missed(), 1);
}

TEST(Driving, StopsLessThan100MmBeyondAnUnreadEnd) {
  for (const double factor : {0.995, 1.0, 1.005}) {
    for (const double length : {500.0, 2000.0, 5000.0, 9500.0, 12500.0}) {
      Rail rail;
      rail.odometer_factor = factor;
      rail.dirty = {uid(2)};
      ASSERT_TRUE(rail.give({{1, 0}, {2, length, Act::stop}}));
      rail.run(60);
      EXPECT_EQ(rail.speed, 0);
      EXPECT_EQ(rail.logic.fault(), Fault::overrun);
      EXPECT_LT(rail.farthest, length + (length <= 5000 ? 100 : 150)) << length << ", " << factor;
      // It doesn't give up before the reader could see the tag, even when the odometer counts too
      // much.
      EXPECT_GT(rail.farthest, length) << length << ", " << factor;
    }
  }
}

TEST(Driving, LearnsWhatItsOdometerIsWorth) {
  for (const double factor : {0.98, 1.02}) {
    for (const bool dirty : {false, true}) {
      Rail rail;
      rail.odometer_factor = factor;
      std::vector<Leg> legs{{1, 0}};
      for (Step step = 2; step <= 12; ++step) legs.push_back({step, 1500});
      legs.push_back({13, 9000, Act::stop});
      if (dirty) rail.dirty = {uid(13)};
      ASSERT_TRUE(rail.give(legs));
      rail.run(120);
      EXPECT_EQ(rail.logic.fault(), dirty ? Fault::overrun : Fault::none) << factor;
      EXPECT_LT(rail.farthest, 11 * 1500 + 9000 + (dirty ? 100 : 0)) << factor;
      EXPECT_GT(rail.farthest, 11 * 1500 + 9000 - (dirty ? 0 : window)) << factor;
    }
  }
}

TEST(Driving, OverrunLastsUntilTheTagIsReadOrTheWayLeadsOnOrAReset) {
  enum class Cure { read, led_on, reset };
  for (const Cure cure : {Cure::read, Cure::led_on, Cure::reset}) {
    Rail rail;
    rail.dirty = {uid(2)};
    ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::wait}}));
    rail.run(20);
    ASSERT_EQ(rail.logic.fault(), Fault::overrun);
    const double stood = rail.at;
    rail.tags[uid(3)] = 2000;
    ASSERT_TRUE(rail.tell({{1, 0}, {2, 1000, Act::wait}}));
    rail.run(10);
    EXPECT_EQ(rail.at, stood) << "the same authority again is no cure";
    EXPECT_EQ(rail.logic.fault(), Fault::overrun);
    switch (cure) {
      case Cure::reset:
        rail.logic.reset();
        EXPECT_EQ(rail.logic.fault(), Fault::none);
        ASSERT_TRUE(rail.tell({{4, 0}, {5, 1000, Act::stop}}, {{4, uid(2)}, {5, uid(3)}}));
        break;
      case Cure::read:
        rail.dirty.clear();
        rail.at -= stood - 1010;  // a person pushes it back over the tag
        rail.run(0.02);
        EXPECT_EQ(rail.logic.passed(), 2u);
        EXPECT_EQ(rail.logic.fault(), Fault::none);
        [[fallthrough]];
      case Cure::led_on:
        ASSERT_TRUE(rail.tell({{1, 0}, {2, 1000}, {3, 1000, Act::stop}}));
        break;
    }
    rail.run(30);
    EXPECT_EQ(rail.logic.fault(), Fault::none);
    EXPECT_EQ(rail.logic.passed(), cure == Cure::reset ? 5u : 3u);
  }
}

TEST(Driving, AForeignTagStopsTheCartUntilReset) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 2000}, {3, 2000, Act::stop}}));
  rail.tags["0BADBADB"] = 1000;
  rail.run(20);
  EXPECT_THAT(rail.reads(), ElementsAre(0));
  EXPECT_EQ(rail.logic.fault(), Fault::wrong_tag);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_LT(rail.at, 1000 - window + 400.0 * 400 / (2 * 600) + 400 * 0.04)
      << "stopping distance v^2 / 2a and two steps of delay";
  const double stood = rail.at;
  EXPECT_TRUE(rail.tell({{1, 0}, {2, 2000}, {3, 2000, Act::stop}}));
  rail.logic.on_service_release();
  rail.run(10);
  EXPECT_EQ(rail.at, stood) << "neither an authority nor a release lifts it";
  rail.logic.reset();
  EXPECT_EQ(rail.logic.fault(), Fault::none);
  EXPECT_EQ(rail.logic.passed(), 0u);
  rail.run(10);
  EXPECT_EQ(rail.at, stood) << "nothing is held after a reset";
}

TEST(Driving, AfterAResetItDrivesSlowlyToTheNextTag) {
  Rail rail;
  rail.at = 700;  // set down between the tags
  rail.senses.odometer = 700;
  rail.once();
  rail.tags[uid(2)] = 2000;
  ASSERT_TRUE(rail.tell({{1, 0}, {2, 2000, Act::stop}}));
  rail.run(30);
  EXPECT_LT(rail.top_speed, 250);
  EXPECT_EQ(rail.logic.passed(), 2u);
  EXPECT_LT(rail.farthest, 2100);
}

TEST(Driving, TheSameTagAgainIsOneRead) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::stop}}));
  rail.run(30);  // stands over the tag; the reader sees it at every step
  EXPECT_THAT(rail.reads(), ElementsAre(2));
}

TEST(Driving, PushedByHandWithoutAnAuthorityItTellsEveryTagAndAsksForNoSpeed) {
  Rail rail;
  rail.once();
  std::vector<std::string> told;
  int odometer = 0;
  for (const char* uid_text : {"04B10001", "04B10002", "04B10002", "04B10001", "0BADBADB"}) {
    odometer += 700;
    for (int sight = 0; sight < 3; ++sight) rail.logic.on_tag(tag(uid_text), odometer + sight);
    Senses senses = rail.senses;
    senses.odometer = odometer;
    senses.standing = false;
    EXPECT_EQ(rail.logic.step(senses).speed, 0);
    Event event{};
    while (rail.logic.next_event(event)) {
      EXPECT_EQ(event.kind, EventKind::read);
      EXPECT_EQ(event.step, 0u);
      EXPECT_TRUE(same_tag(event.tag, tag(uid_text)));
      told.emplace_back(uid_text);
    }
  }
  EXPECT_THAT(told, ElementsAre("04B10001", "04B10002", "04B10002", "04B10001", "0BADBADB"))
      << "once a pass, known or not, also the same again further on";
  EXPECT_EQ(rail.logic.fault(), Fault::none);
}

TEST(Driving, ASpareTagOfTheSamePointIsNoNewPoint) {
  Rail rail;
  rail.tags = {{uid(1), 0}, {uid(2), 1000}, {"0400AAAA", 1040}, {uid(3), 2000}};
  ASSERT_TRUE(rail.logic.authority_begin(1, 3, 1));
  const Tag one[] = {tag(uid(1))};
  const Tag two[] = {tag(uid(2)), tag("0400AAAA")};
  const Tag three[] = {tag(uid(3))};
  rail.logic.authority_point({1, Act::go, Branch::straight, Gear::forward, 0, 400}, one, 1);
  rail.logic.authority_point({2, Act::go, Branch::straight, Gear::forward, 1000, 400}, two, 2);
  rail.logic.authority_point({3, Act::stop, Branch::straight, Gear::forward, 1000, 400}, three, 1);
  rail.logic.authority_end();
  rail.run(20);
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3));
  EXPECT_EQ(rail.logic.fault(), Fault::none);
}

TEST(Driving, KeepsWhatFitsOfALongAuthority) {
  Rail rail;
  std::vector<Leg> legs{{1, 0}};
  for (Step step = 2; step <= 40; ++step) legs.push_back({step, 500});
  ASSERT_TRUE(rail.give(legs));
  EXPECT_EQ(rail.logic.until(), Step{CartLogic::max_points});
  rail.run(60);
  EXPECT_EQ(rail.logic.passed(), Step{CartLogic::max_points});
  EXPECT_EQ(rail.speed, 0);
  ASSERT_TRUE(rail.tell({legs.begin() + 20, legs.end()}));
  rail.run(60);
  EXPECT_EQ(rail.logic.passed(), 40u);
}

TEST(Driving, ABranchIsSetBeforeItsForkAndHeldBehindIt) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0, Act::go, Gear::forward, Branch::straight},
                         {2, 1000, Act::go, Gear::forward, Branch::right},
                         {3, 1000, Act::go, Gear::forward, Branch::left},
                         {4, 1000, Act::stop, Gear::forward, Branch::straight}}));
  rail.dirty = {uid(3)};  // the branch must not depend on reading the fork's tag
  std::map<int, Branch> at_place;
  for (int i = 0; i < 1500 && rail.logic.passed() != 4; ++i) {
    rail.once();
    at_place[static_cast<int>(rail.at) / 10 * 10] = rail.drive.branch;
  }
  EXPECT_EQ(at_place.at(0), Branch::right);
  EXPECT_EQ(at_place.at(100), Branch::right);
  EXPECT_EQ(at_place.at(900), Branch::left) << "leaving point 2";
  EXPECT_EQ(at_place.at(1050), Branch::left) << "still, behind its tag";
  EXPECT_EQ(at_place.at(1900), Branch::straight) << "leaving point 3, unread";
}

}  // namespace
}  // namespace tagline::cart::test
