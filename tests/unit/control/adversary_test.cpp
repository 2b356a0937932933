// The core at its worst moments: power and links that fail between two messages, people who act
// while carts move, books that contradict. Each of these once went wrong in a review.
#include <cstdio>

#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using testing::HasSubstr;

class Loop : public CoreTest {};
class Shortcut : public CoreTest {
 protected:
  Shortcut() : CoreTest(test::loop_with_shortcut()) {}
  /// On its way from K1 over the fork at C to DRY, its tag behind the fork not found.
  void overrun_behind_the_fork() {
    start();
    put_on_floor(one, "H1");
    ask("DRY", "PACK");
    drive_to(one, "C");
    tell(CartReports{.cart = one, .battery = 80, .fault = Fault::overrun});
    ASSERT_EQ(mode(one), CartMode::in_doubt);
  }
};
class Corridor : public CoreTest {
 protected:
  Corridor() : CoreTest(test::corridor()) {}
};

TEST_F(Loop, ACartThatCannotBeToldIsNotPlaced) {
  // Its memory may still hold an authority, and it would drive on it.
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto before = core->cart(one);
  tell(CartLinkLost{one});
  start(restored());
  tell(AskPlaceCart{1, one, "H1", ""});
  EXPECT_THAT(refusal(), HasSubstr("is not connected"));
  EXPECT_TRUE(holds(one, floor[ways[before.path[before.authority].pose].at].id));
  tell(AskRemoveCart{1, one});
  EXPECT_TRUE(accepted()) << "taking it off the floor is the way";
}

TEST_F(Shortcut, ALateTagDoesNotLiftAStop) {
  for (const bool all : {true, false}) {
    jobs.clear();
    paths.clear();
    carts.clear();
    fleet = {};
    overrun_behind_the_fork();
    if (all) {
      tell(AskStopAll{1});
    } else {
      tell(AskStopCart{1, one});
    }
    const auto view = core->cart(one);
    read(one, floor[ways[view.path[1].pose].at].id);
    EXPECT_TRUE(messages<TellRelease>(one).empty());
    EXPECT_EQ(mode(one), CartMode::needs_release);
  }
}

TEST_F(Shortcut, ATagOfTheOtherBranchSettlesThatItWentWrong) {
  overrun_behind_the_fork();
  read(one, "D");
  read(one, "C");
  EXPECT_EQ(mode(one), CartMode::in_doubt) << "it has been on the other branch";
  EXPECT_TRUE(messages<TellRelease>(one).empty());
}

TEST_F(Loop, PowerLostRightAfterLoadingDoesNotLoadTwice) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "B");
  tell(CartLinkLost{one});
  tell(CartGreets{
      .cart = one, .last_tag = tag("B"), .rebooted = true, .loaded = true, .battery = 80});
  EXPECT_EQ(core->job(id)->state, JobState::loaded);
  tell(AskReleaseCart{1, one});
  ASSERT_EQ(messages<TellAuthority>(one).size(), 1u);
  EXPECT_NE(messages<TellAuthority>(one)[0].points.back().act, ToldAct::load);
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

TEST_F(Loop, ALoadThatWentWhileTheCartWasDarkIsNotDelivered) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "B");
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  tell(CartLinkLost{one});
  tell(CartGreets{.cart = one, .last_tag = tag("B"), .rebooted = true, .battery = 80});
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_THAT(core->cart(one).trouble, HasSubstr("its load is gone"));
  tell(AskPlaceCart{1, one, "B", ""});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_EQ(core->job(id)->state, JobState::stranded);
}

TEST_F(Shortcut, AJobThatNobodyCanDoKeepsNoCartFromOthers) {
  start();
  put_on_floor(one, "H1");
  put_on_floor(two, "K1");
  ask("CAST", "DRY");
  const CartIx lost = core->cart(one).job ? one : two;
  drive_to(lost, "B");
  tell(CartHandled{lost, core->cart(lost).path[0].step, Handling::load});
  drive_to(lost, "X");
  tell(CartReports{.cart = lost, .battery = 80, .loaded = true, .fault = Fault::tape_lost});
  const JobId barred = ask("CAST", "DRY");
  const JobId open = ask("CAST", "GLAZE");
  EXPECT_EQ(core->job(open)->state, JobState::assigned);
  EXPECT_EQ(core->job(barred)->state, JobState::queued);
}

TEST_F(Loop, ALoadOfACancelledJobKeepsTheCartFromTheNext) {
  start();
  put_on_floor(one, "H1");
  const JobId cancelled = ask("CAST", "DRY");
  drive_to(one, "A");
  const auto view = core->cart(one);
  ASSERT_EQ(view.path[view.authority].act, Act::load);
  const JobId next = ask("PACK", "DRY");
  tell(AskCancelJob{1, cancelled});
  EXPECT_EQ(core->job(next)->state, JobState::assigned);
  // The word of the cancelling crosses the word that the load is on.
  tell(CartReads{one, tag("B"), view.path[view.authority].step});
  tell(CartHandled{one, view.path[view.authority].step, Handling::load});
  EXPECT_EQ(core->job(next)->state, JobState::queued);
  EXPECT_TRUE(alarm(AlarmKind::stranded_load));
  drive(one);
  EXPECT_EQ(core->job(next)->state, JobState::queued);
  tell(CartReports{.cart = one, .battery = 80, .loaded = false});
  EXPECT_EQ(core->job(next)->state, JobState::assigned);
}

TEST_F(Loop, LinksLostBeforeTheFirstAuthorityAreNoDoubt) {
  start();
  greet(one, "A");
  tell(AskPlaceCart{1, one, "A", "H"});
  ASSERT_GT(core->cart(one).authority, 0u) << "not a siding: it is sent to one at once";
  tell(CartLinkLost{one});
  tell(CartGreets{.cart = one, .last_tag = tag("A"), .battery = 80});
  EXPECT_EQ(mode(one), CartMode::driving) << core->cart(one).trouble;
  EXPECT_EQ(messages<TellAuthority>(one).size(), 1u);
}

TEST_F(Loop, ACartThatWasCarriedKnowsNoBetterTagUntilItHasReadOne) {
  start();
  greet(one, "F");  // the last tag it read before somebody carried it
  tell(AskPlaceCart{1, one, "A", "H"});
  const CartView placed = core->cart(one);
  const auto greets_again = [&](const std::string& tag_it_names) {
    tell(CartLinkLost{one});
    tell(CartGreets{.cart = one,
                    .last_tag = tag_it_names,
                    .step = placed.path[0].step,
                    .until = placed.path[placed.authority].step,
                    .battery = 80});
  };
  greets_again(tag("F"));
  EXPECT_EQ(mode(one), CartMode::driving) << core->cart(one).trouble;
  greets_again("");
  EXPECT_EQ(mode(one), CartMode::driving) << core->cart(one).trouble;
  // Once it has read one, only that one fits.
  tell(CartReads{one, floor[track.ways()[placed.path[1].pose].at].tags[0], placed.path[1].step});
  tell(CartLinkLost{one});
  tell(CartGreets{.cart = one,
                  .last_tag = tag("F"),
                  .step = placed.path[1].step,
                  .until = placed.path[placed.authority].step,
                  .battery = 80});
  EXPECT_EQ(mode(one), CartMode::in_doubt);
}

TEST_F(Loop, ARebootedCartWhoseLinkFlapsStillWaitsForAPerson) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  for (const bool rebooted : {true, false}) {
    tell(CartLinkLost{one});
    tell(CartGreets{.cart = one, .last_tag = tag("H1"), .rebooted = rebooted, .battery = 80});
    EXPECT_EQ(mode(one), CartMode::needs_release) << core->cart(one).trouble;
  }
}

TEST_F(Corridor, AnUnreadTagAtAPlaceToTurnIsDoubt) {
  start();
  put_on_floor(one, "H3");
  const JobId id = ask("KILN", "PACK");
  drive_to(one, "Q");
  tell(AskCancelJob{1, id});
  drive_to(one, "R");
  tell(CartReports{.cart = one, .battery = 80, .fault = Fault::overrun});
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  tell(AskPlaceCart{1, one, "T", "R"});
  EXPECT_TRUE(accepted()) << refusal();
}

TEST_F(Corridor, PowerLostAtAPlaceToTurnIsDoubt) {
  start();
  put_on_floor(one, "H3");
  ask("KILN", "PACK");
  drive_to(one, "T");
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  tell(CartLinkLost{one});
  tell(CartGreets{
      .cart = one, .last_tag = tag("T"), .rebooted = true, .loaded = true, .battery = 80});
  EXPECT_EQ(mode(one), CartMode::in_doubt) << "nobody knows whether it has turned";
}

TEST_F(Loop, HandlingDoneWhileInDoubtIsNotForgotten) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "B");
  const Step step = core->cart(one).path[0].step;
  tell(CartReports{.cart = one, .battery = 80, .fault = Fault::tape_lost});
  tell(CartHandled{one, step, Handling::load});
  EXPECT_TRUE(core->cart(one).loaded);
  EXPECT_EQ(core->job(id)->state, JobState::loaded);
  tell(AskPlaceCart{1, one, "B", ""});
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered) << "carried on, not loaded again";
}

TEST_F(Loop, NobodyIsReleasedWhileACartIsNobodyKnowsWhere) {
  // What the store makes of a cart that was on a floor which has been changed since.
  Restored changed;
  changed.fleet.all_stopped = true;
  changed.carts.push_back({one, true, false, "the floor was changed while it was on it", {}});
  start(changed);
  greet(one, "B");
  put_on_floor(two, "H1");
  tell(AskReleaseAll{1});
  EXPECT_THAT(refusal(), HasSubstr("Nobody knows where cart-1 is"));
  EXPECT_TRUE(core->all_stopped());
  tell(AskRemoveCart{1, one});
  ASSERT_TRUE(accepted()) << refusal();
  tell(AskReleaseAll{1});
  EXPECT_TRUE(accepted());
}

TEST_F(Loop, ASickReaderIsShownButDoesNotFloodTheAlarms) {
  start();
  put_on_floor(one, "H1");
  for (int i = 0; i < 500; ++i) {
    char uid[9];
    std::snprintf(uid, sizeof uid, "0F%06X", static_cast<unsigned>(i));
    tell(CartReads{one, uid, 0});
  }
  EXPECT_EQ(core->alarms().size(), 50u);
}

class SpurWithTwoWaysIn : public CoreTest {
 protected:
  static floor::Floor two_ways_in() {
    test::FloorBuilder b;
    b.point("A", 0, 0).point("Z", 0, 4000).point("B", 3000, 2000).point("C", 6000, 2000);
    b.point("D", 6000, 8000).point("K", 5500, 4500);
    b.segment("AB", "A", "B").segment("ZB", "Z", "B").segment("BC", "B", "C");
    b.segment("CD", "C", "D").segment("DZ", "D", "Z").segment("DA", "D", "A").via({{-3000, 8000}});
    b.segment("BK", "B", "K").spur();
    b.point("H1", 9000, 5000).siding().segment("IN", "C", "H1").segment("OUT", "H1", "D");
    b.station("KILN", "K").station("CAST", "C");
    return b.build();
  }
  SpurWithTwoWaysIn() : CoreTest(two_ways_in()) {}
};

TEST_F(SpurWithTwoWaysIn, PlacingDoesNotGuessWhereTheTailLies) {
  start();
  greet(one, "K");
  ASSERT_EQ(ways.poses_at(*floor.find_point("K")).size(), 2u);
  tell(AskPlaceCart{1, one, "K", "B"});
  EXPECT_THAT(refusal(), HasSubstr("more than one way"));
}

class UntaggedPoint : public CoreTest {
 protected:
  static floor::Floor untagged() {
    floor::Floor floor = test::loop_with_bay();
    floor.points[2].tags.clear();  // C
    return floor;
  }
  UntaggedPoint() : CoreTest(untagged()) {}
};

TEST_F(UntaggedPoint, ACartIsNeverToldToStopWhereItCannotBeSeen) {
  start();
  put_on_floor(one, "H1");
  put_on_floor(two, "H2");
  for (int round = 0; round < 3; ++round) {
    const JobId id = ask("CAST", "DRY");
    for (int i = 0; i < 100 && !is_final(core->job(id)->state); ++i) {
      for (const CartIx cart : {one, two}) {
        const CartView view = core->cart(cart);
        ASSERT_FALSE(floor[ways[view.path[view.authority].pose].at].tags.empty());
        if (view.mode == CartMode::handling) {
          tell(CartHandled{cart, view.path[0].step,
                           view.path[0].act == Act::load ? Handling::load : Handling::unload});
        } else if (view.mode == CartMode::driving) {
          const bool seen = !floor[ways[view.path[1].pose].at].tags.empty();
          const PathStep& next = view.path[seen ? 1 : 2];
          tell(CartReads{cart, floor[ways[next.pose].at].tags[0], next.step});
        }
      }
    }
    EXPECT_EQ(core->job(id)->state, JobState::delivered);
  }
  EXPECT_FALSE(alarm(AlarmKind::missed_tag)) << "no tag, so none was missed";
}

}  // namespace
}  // namespace tagline::control
