// Acts at points, a person's stop, obstacles, power-up.
#include <gmock/gmock.h>

#include "tests/unit/cart_logic/rail.hpp"

namespace tagline::cart::test {
namespace {

using testing::ElementsAre;

TEST(Acting, LoadsThenTellsThenGoesOn) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}, {3, 1000, Act::unload}}));
  for (int i = 0; i < 500 && rail.drive.handling == Handling::none; ++i) rail.once();
  EXPECT_EQ(rail.speed, 0);
  EXPECT_EQ(rail.drive.handling, Handling::load);
  EXPECT_FALSE(rail.logic.loaded());
  rail.run(30);
  ASSERT_EQ(rail.count(EventKind::done), 2u);
  std::vector<std::pair<Step, Handling>> done;
  for (const Event& e : rail.events) {
    if (e.kind == EventKind::done) done.emplace_back(e.step, e.handling);
  }
  EXPECT_THAT(
      done, ElementsAre(std::pair{Step{2}, Handling::load}, std::pair{Step{3}, Handling::unload}));
  EXPECT_FALSE(rail.logic.loaded());
}

TEST(Acting, APersonSaysThatTheLoadIsOn) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}, {3, 1000, Act::unload}}));
  EXPECT_FALSE(rail.logic.on_handled(2, Handling::load)) << "it is not there yet";
  for (int i = 0; i < 500 && rail.drive.handling == Handling::none; ++i) rail.once();
  EXPECT_FALSE(rail.logic.on_handled(1, Handling::load)) << "meant for another place";
  EXPECT_FALSE(rail.logic.on_handled(2, Handling::unload));
  EXPECT_FALSE(rail.logic.on_handled(2, Handling::none));
  ASSERT_EQ(rail.count(EventKind::done), 0u);
  ASSERT_TRUE(rail.logic.on_handled(2, Handling::load));
  rail.once();
  ASSERT_EQ(rail.count(EventKind::done), 1u);
  EXPECT_TRUE(rail.logic.loaded());
  EXPECT_EQ(rail.drive.handling, Handling::none);
  EXPECT_FALSE(rail.logic.on_handled(2, Handling::load)) << "said twice";
  rail.run(0.5);
  EXPECT_EQ(rail.count(EventKind::done), 1u);
}

TEST(Acting, ARepeatedAuthorityDoesNotLoadTwice) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}}));
  rail.run(20);
  ASSERT_EQ(rail.count(EventKind::done), 1u);
  ASSERT_TRUE(rail.tell({{1, 0}, {2, 1000, Act::load}}));
  rail.run(20);
  EXPECT_EQ(rail.count(EventKind::done), 1u);
  rail.tags[uid(3)] = 2000;
  ASSERT_TRUE(rail.tell({{2, 0, Act::load}, {3, 1000, Act::stop}}));
  rail.run(20);
  EXPECT_EQ(rail.count(EventKind::done), 1u);
  EXPECT_EQ(rail.logic.passed(), 3u);
}

TEST(Acting, AnAuthorityOfAnEarlierTripDoesNotUnloadAgain) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}}));
  rail.run(20);
  rail.tags[uid(3)] = 2000;
  ASSERT_TRUE(rail.tell({{2, 0, Act::load}, {3, 1000, Act::unload}}));
  rail.run(20);
  ASSERT_FALSE(rail.logic.loaded());
  // The next job begins where this one ended: the same step, another act.
  ASSERT_TRUE(rail.tell({{3, 0, Act::load}}, {}, 2));
  rail.run(20);
  ASSERT_TRUE(rail.logic.loaded());
  EXPECT_FALSE(rail.tell({{2, 0, Act::load}, {3, 1000, Act::unload}}, {}, 1)) << "an old one";
  rail.run(20);
  EXPECT_TRUE(rail.logic.loaded());
  EXPECT_EQ(rail.count(EventKind::done), 3u);
}

TEST(Acting, TripsBeginAgainAfterAReset) {
  Rail rail;
  ASSERT_TRUE(rail.tell({{1, 0, Act::stop}}, {}, 7));
  rail.logic.reset();
  EXPECT_TRUE(rail.tell({{1, 0, Act::stop}}, {}, 1));
}

TEST(Acting, LoadsAgainWhatAPersonTookOff) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}}));
  rail.run(20);
  ASSERT_EQ(rail.count(EventKind::done), 1u);
  rail.logic.set_loaded(false);  // its job was cancelled meanwhile
  ASSERT_TRUE(rail.tell({{2, 0, Act::load}}));
  rail.run(20);
  EXPECT_EQ(rail.count(EventKind::done), 2u);
  EXPECT_TRUE(rail.logic.loaded());
}

TEST(Acting, LoadsAtThePointItRestsOn) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::stop}}));
  rail.run(20);
  ASSERT_TRUE(rail.tell({{2, 0, Act::load}}));
  rail.run(20);
  EXPECT_EQ(rail.count(EventKind::done), 1u);
}

TEST(Acting, TurnsWithItsMiddleOverThePointAndCountsFromThere) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 2000, Act::turn}}));
  rail.run(20);
  ASSERT_EQ(rail.logic.passed(), 2u);
  EXPECT_TRUE(rail.turned_at.empty()) << "no turn before it may go on";
  // After the turn the rail's axis goes on as the way back: the next tag lies 1500 mm from the
  // point, so 1500 - offset from where the reader is after the turn.
  const double offset = rail.logic.turn_offset();
  EXPECT_EQ(offset, 600 / 2 - 100);
  ASSERT_TRUE(rail.tell({{2, 0, Act::turn}, {3, 1500, Act::stop}}));
  rail.run(5);
  EXPECT_TRUE(rail.drive.turn);
  EXPECT_NEAR(rail.at, 2000 + offset, window + 10);
  const double turned_at = rail.at;
  rail.tags[uid(3)] = turned_at + 1500 - offset;
  rail.run(30);
  ASSERT_EQ(rail.turned_at.size(), 1u);
  EXPECT_EQ(rail.logic.passed(), 3u);
  EXPECT_LE(rail.speed_at[uid(3)], 101);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
}

TEST(Acting, LeavesTheTapeOnlyTowardsATurn) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::turn}, {3, 1000, Act::stop}}));
  bool straight_on = false;
  for (int i = 0; i < 1000 && rail.turned_at.empty(); ++i) {
    rail.senses.tape = rail.at < 1000;  // the tape ends at the point
    rail.once();
    if (rail.drive.straight_on) {
      straight_on = true;
      EXPECT_GT(rail.at, 1000 - window - 10);
    }
  }
  EXPECT_TRUE(straight_on);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
  rail.senses.tape = false;
  rail.run(1);
  EXPECT_EQ(rail.logic.fault(), Fault::tape_lost) << "elsewhere losing the tape is a fault";
  EXPECT_EQ(rail.speed, 0);
}

TEST(Acting, BacksOutOfASpurByTheTagsItCameBy) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000}, {3, 2000, Act::load}}));
  rail.run(30);
  ASSERT_EQ(rail.count(EventKind::done), 1u);
  // Mouth (the point of step 2) again as step 4, then forward to a new point, 1000 mm on.
  rail.tags["040000FF"] = 2000;
  ASSERT_TRUE(rail.tell({{3, 0, Act::load}, {4, 2000, Act::go, Gear::back}, {5, 1000, Act::stop}},
                        {{4, uid(2)}, {5, "040000FF"}}));
  double least = 1e9;
  rail.dirty = {"040000FF"};  // it lies on another tape than the spur
  for (int i = 0; i < 2000 && rail.logic.passed() != 5; ++i) {
    rail.once();
    if (rail.logic.passed() == 4) rail.dirty.clear();
    least = std::min(least, rail.at);
  }
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3, 4, 5));
  EXPECT_NEAR(least, 1000, window + 10);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
}

TEST(Acting, TheMouthsTagIsNotTakenForTheWayOut) {
  // Entering the spur with the whole way in and out held, the mouth's tag is under the reader for
  // a while: it must not count as the mouth on the way out.
  Rail rail;
  rail.tags = {{uid(1), 0}, {uid(2), 1000}, {uid(3), 3000}};
  ASSERT_TRUE(
      rail.tell({{1, 0}, {2, 1000}, {3, 2000}, {4, 2000, Act::stop, Gear::back}}, {{4, uid(2)}}));
  rail.run(60);
  EXPECT_THAT(rail.reads(), ElementsAre(2, 3, 4));
  EXPECT_NEAR(rail.at, 1000, window + 10);
}

TEST(Stopping, APersonsStopHoldsUntilAPersonReleases) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 5000, Act::stop}}));
  rail.run(5);
  rail.logic.on_stop(StopCause::button);
  rail.logic.on_stop(StopCause::bumper);
  rail.run(5);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_EQ(rail.count(EventKind::stop), 1u);
  EXPECT_TRUE(rail.logic.stopped());
  const double stood = rail.at;
  ASSERT_TRUE(rail.tell({{1, 0}, {2, 5000, Act::stop}}));
  rail.run(30);
  EXPECT_EQ(rail.at, stood) << "no authority releases a stop";
  rail.logic.on_release();
  rail.run(30);
  EXPECT_EQ(rail.count(EventKind::release), 1u);
  EXPECT_EQ(rail.logic.passed(), 2u);
}

TEST(Stopping, TheServicesStopIsNotLiftedAtTheCart) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 5000, Act::stop}}));
  rail.run(2);
  rail.logic.on_service_stop();
  rail.run(3);
  ASSERT_EQ(rail.speed, 0);
  rail.logic.on_release();
  rail.run(5);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_EQ(rail.count(EventKind::release), 0u);
  rail.logic.on_service_release();
  rail.run(30);
  EXPECT_EQ(rail.logic.passed(), 2u);
}

TEST(Stopping, AResetDoesNotReleaseAStop) {
  Rail rail;
  rail.logic.on_stop(StopCause::button);
  rail.logic.reset();
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::stop}}));
  rail.run(10);
  EXPECT_EQ(rail.at, 0);
  rail.logic.on_service_release();
  rail.run(10);
  EXPECT_EQ(rail.at, 0) << "a stop at the cart is released at the cart";
  rail.logic.on_release();
  rail.run(20);
  EXPECT_EQ(rail.logic.passed(), 2u);
}

TEST(Stopping, AnObstacleStopsItAndIsToldAfterAWhile) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 5000, Act::stop}}));
  rail.run(3);
  rail.senses.obstacle = true;
  rail.run(1);
  EXPECT_EQ(rail.speed, 0);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
  rail.run(2);
  EXPECT_EQ(rail.logic.fault(), Fault::blocked);
  rail.senses.obstacle = false;
  rail.run(0.9);
  EXPECT_EQ(rail.speed, 0) << "waits a second";
  rail.run(30);
  EXPECT_EQ(rail.logic.fault(), Fault::none);
  EXPECT_EQ(rail.logic.passed(), 2u);
}

TEST(PowerUp, NothingIsHeldButTagLoadAndStop) {
  Rail rail;
  ASSERT_TRUE(rail.give({{1, 0}, {2, 1000, Act::load}, {3, 1000, Act::stop}}));
  for (int i = 0; i < 1000 && !rail.logic.loaded(); ++i) rail.once();
  ASSERT_TRUE(rail.logic.loaded());
  rail.logic.power_up({rail.logic.last_tag(), rail.logic.loaded(), true}, false,
                      rail.senses.odometer);
  const double stood = rail.at;
  rail.speed = 0;
  rail.drive = {};
  rail.run(10);
  EXPECT_EQ(rail.at, stood);
  EXPECT_EQ(rail.logic.passed(), 0u);
  EXPECT_EQ(rail.logic.until(), 0u);
  EXPECT_TRUE(rail.logic.loaded());
  EXPECT_TRUE(rail.logic.stopped_here()) << "a stop outlasts a loss of power";
  EXPECT_TRUE(same_tag(rail.logic.last_tag(), tag(uid(2))));
}

TEST(Tags, HexBothWays) {
  Tag t = no_tag();
  for (const char* uid_text :
       {"", "04A1B2C3", "E004010012345678", "0102030405", "04112233445566778899"}) {
    ASSERT_TRUE(tag_from_hex(uid_text, t)) << uid_text;
    char text[tag_text_size];
    tag_to_hex(t, text);
    EXPECT_STREQ(text, uid_text);
  }
  for (const char* wrong : {"0", "04A", "0G", "0411223344556677889900", "04 1"}) {
    EXPECT_FALSE(tag_from_hex(wrong, t)) << wrong;
    EXPECT_EQ(t.size, 0);
  }
}

}  // namespace
}  // namespace tagline::cart::test
