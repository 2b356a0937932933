// The core, one event at a time: what carts and people may say, and what must come of it.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using testing::HasSubstr;

// ---- jobs ------------------------------------------------------------------------------------

TEST_F(CoreTest, DeliversAJobAndGoesToRest) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  EXPECT_EQ(core->job(id)->state, JobState::assigned);
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
  EXPECT_EQ(mode(one), CartMode::idle);
  EXPECT_TRUE(floor[*floor.find_point(at(one))].siding);
  EXPECT_FALSE(core->cart(one).loaded);
}

TEST_F(CoreTest, TheAnswerToAJobComesWithItsRecord) {
  start();
  const JobId id = ask("CAST", "DRY");
  ASSERT_FALSE(last.records.empty());
  EXPECT_EQ(std::get<JobRecord>(last.records[0]).job.id, id);
  ASSERT_FALSE(core->why(id).empty());
  EXPECT_EQ(core->why(id)[0].kind, Reason::Kind::no_cart);
}

TEST_F(CoreTest, RefusesJobsThatMakeNoSense) {
  start();
  tell(AskJob{.request = 1, .from = "CAST", .to = "MOON"});
  EXPECT_THAT(refusal(), HasSubstr("No station \"MOON\""));
  tell(AskJob{.request = 1, .from = "CAST", .to = "CAST"});
  EXPECT_THAT(refusal(), HasSubstr("another one"));
  tell(AskJob{.request = 1, .from = "CAST", .to = "DRY", .priority = 10});
  EXPECT_THAT(refusal(), HasSubstr("0 to 9"));
  tell(AskJob{.request = 1, .from = "CAST", .to = "DRY", .note = std::string(201, 'x')});
  EXPECT_THAT(refusal(), HasSubstr("200 bytes"));
  EXPECT_TRUE(core->jobs().empty());
  EXPECT_TRUE(jobs.empty()) << "nothing may be recorded of a refused job";
}

TEST_F(CoreTest, AnIdempotencyKeyMakesOneJob) {
  start();
  tell(AskJob{.request = 1, .from = "CAST", .to = "DRY", .key = "k1"});
  const auto first = std::get<JobTaken>(last.answers[0].what);
  tell(AskJob{.request = 2, .from = "CAST", .to = "DRY", .key = "k1"});
  const auto again = std::get<JobTaken>(last.answers[0].what);
  EXPECT_EQ(again.job, first.job);
  EXPECT_FALSE(first.repeated);
  EXPECT_TRUE(again.repeated);
  tell(AskJob{.request = 3, .from = "DRY", .to = "CAST", .key = "k1"});
  EXPECT_THAT(refusal(), HasSubstr("other content"));
  start(restored());
  tell(AskJob{.request = 4, .from = "CAST", .to = "DRY", .key = "k1"});
  EXPECT_EQ(std::get<JobTaken>(last.answers[0].what).job, first.job) << "also after a restart";
}

TEST_F(CoreTest, CancelsUntilTheLoadIsOn) {
  start();
  put_on_floor(one, "H1");
  const JobId first = ask("CAST", "DRY");
  tell(AskCancelJob{1, first});
  EXPECT_TRUE(accepted());
  EXPECT_EQ(core->job(first)->state, JobState::cancelled);
  drive(one);
  EXPECT_EQ(mode(one), CartMode::idle) << "it went on to rest without loading";
  EXPECT_FALSE(core->cart(one).loaded);

  const JobId second = ask("CAST", "DRY");
  drive_to(one, "B");
  ASSERT_EQ(mode(one), CartMode::handling);
  tell(AskCancelJob{1, second});
  EXPECT_THAT(refusal(), HasSubstr("being loaded"));
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  tell(AskCancelJob{1, second});
  EXPECT_THAT(refusal(), HasSubstr("will be delivered"));
  drive(one);
  tell(AskCancelJob{1, second});
  EXPECT_THAT(refusal(), HasSubstr("delivered already"));
  tell(AskCancelJob{1, {99}});
  EXPECT_THAT(refusal(), HasSubstr("no job 99"));
}

TEST_F(CoreTest, AHigherPriorityGoesFirstButAgeCounts) {
  start();
  const JobId old = ask("CAST", "DRY");
  now += std::chrono::minutes{5};
  tell(AskJob{.request = 1, .from = "PACK", .to = "DRY", .priority = 6});
  const JobId urgent = std::get<JobTaken>(last.answers[0].what).job;
  put_on_floor(one, "H1");
  EXPECT_EQ(core->job(urgent)->state, JobState::assigned) << "one step is worth 10 minutes of age";
  EXPECT_EQ(core->job(old)->state, JobState::queued);

  core.reset();
  jobs.clear();
  start();
  const JobId older = ask("CAST", "DRY");
  // PACK is nearer, by less than the minute of travel that 10 more minutes of age outweigh.
  now += std::chrono::minutes{20};
  tell(AskJob{.request = 1, .from = "PACK", .to = "DRY", .priority = 6});
  put_on_floor(one, "H1");
  EXPECT_EQ(core->job(older)->state, JobState::assigned);
}

TEST_F(CoreTest, NothingIsForgottenInAQueueLongerThanIsMatchedAtOnce) {
  start();
  constexpr int queued = 150;  // two carts: 80 are matched at once
  std::vector<JobId> asked;
  for (int i = 0; i < queued; ++i) asked.push_back(ask("CAST", "DRY"));
  tell(AskJob{.request = 1, .from = "CAST", .to = "DRY", .priority = 6});
  const JobId urgent = std::get<JobTaken>(last.answers[0].what).job;
  put_on_floor(one, "H1");
  EXPECT_EQ(core->job(urgent)->state, JobState::assigned) << "it was asked for last";
  constexpr int steps_of_a_job = 40;
  const auto open = [&](JobId id) { return !is_final(core->job(id)->state); };
  for (int i = 0; i < queued * steps_of_a_job && std::ranges::any_of(asked, open); ++i) {
    const CartView view = core->cart(one);
    if (view.mode == CartMode::handling) {
      const bool load = view.path[0].act == Act::load;
      tell(CartHandled{one, view.path[0].step, load ? Handling::load : Handling::unload});
    } else {
      ASSERT_EQ(view.mode, CartMode::driving);
      read(one, floor[track.ways()[view.path[1].pose].at].id);
    }
  }
  for (const JobId id : asked) EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

// ---- reads -----------------------------------------------------------------------------------

TEST_F(CoreTest, AMissedTagIsNoticedByTheNext) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto before = core->cart(one);
  ASSERT_GE(before.authority, 2u);
  const PointIx missed = ways[before.path[1].pose].at;
  const PointIx next = ways[before.path[2].pose].at;
  tell(CartReads{one, floor[next].tags[0], 0});
  EXPECT_EQ(at(one), floor[next].id);
  ASSERT_EQ(last.trace.size(), 1u);
  EXPECT_EQ(std::get<ReadTrace>(last.trace[0]).missed, std::vector{missed});
}

TEST_F(CoreTest, ReadsThatSayNothingNewChangeNothing) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto first_step = core->cart(one).path[0].step;
  read(one, "E");
  const auto before = core->cart(one);
  tell(CartReads{one, tag("E"), before.path[0].step});  // the same again
  tell(CartReads{one, tag("H1"), first_step});          // a late copy
  const auto after = core->cart(one);
  EXPECT_EQ(after.path[0].step, before.path[0].step);
  EXPECT_EQ(after.mode, CartMode::driving);
  EXPECT_EQ(after.holds, before.holds);
}

TEST_F(CoreTest, AForeignTagPutsTheCartInDoubtAndHoldsWhatItCouldReach) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto before = core->cart(one).holds;
  read(one, "C");
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_EQ(messages<TellStop>(one).size(), 1u);
  EXPECT_TRUE(alarm(AlarmKind::in_doubt));
  for (const PieceIx piece : before) EXPECT_TRUE(holds(one, track.name(piece)));
  EXPECT_TRUE(holds(one, "C") && holds(one, "BC") && holds(one, "CD"));

  tell(AskReleaseCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("in doubt")) << "a release doesn't say where it stands";
  tell(AskPlaceCart{1, one, "C", ""});
  EXPECT_TRUE(accepted()) << refusal();
  EXPECT_EQ(messages<TellReset>(one).size(), 1u);
  drive(one);
  EXPECT_EQ(core->job({1})->state, JobState::delivered) << "queued again and done";
}

TEST_F(CoreTest, SlippingPastTheEndOfItsAuthorityIsDoubt) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  drive_to(one, "B");
  read(one, "C");
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_THAT(core->cart(one).trouble, HasSubstr("beyond the end"));
}

TEST_F(CoreTest, AnUnknownTagDisturbsNothingAndIsShown) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  tell(CartReads{one, "0000FFFF", 0});
  EXPECT_EQ(mode(one), CartMode::driving);
  EXPECT_TRUE(alarm(AlarmKind::unknown_tag));
  EXPECT_EQ(std::get<UnknownTagTrace>(last.trace.at(0)).tag, "0000FFFF");
}

TEST_F(CoreTest, AnUnreadTagAtAStopIsNoDoubtWhereTheTapeDoesNotPart) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto before = core->cart(one);
  tell(CartReports{.cart = one, .battery = 80, .fault = Fault::overrun});
  EXPECT_EQ(mode(one), CartMode::driving);
  EXPECT_TRUE(alarm(AlarmKind::fault));
  for (const PieceIx piece : before.holds) {
    EXPECT_TRUE(holds(one, track.name(piece))) << "no tag, so nothing is freed (I3)";
  }
}

TEST_F(CoreTest, AnAlarmIsAnotherOneWhenWhatItIsAboutIsAnother) {
  start();
  put_on_floor(one, "H1");
  const auto fault_alarm = [this](Fault fault) {
    tell(CartReports{.cart = one, .battery = 80, .loaded = false, .moving = false, .fault = fault});
    for (const Alarm& a : core->alarms())
      if (a.kind == AlarmKind::fault) return a.id;
    return std::uint64_t{0};
  };
  const auto blocked = fault_alarm(Fault::blocked);
  EXPECT_NE(blocked, 0u);
  EXPECT_EQ(fault_alarm(Fault::blocked), blocked) << "it goes on";
  const auto drive = fault_alarm(Fault::drive);
  EXPECT_NE(drive, blocked);
  EXPECT_EQ(fault_alarm(Fault::none), 0u);
  EXPECT_NE(fault_alarm(Fault::drive), drive) << "it ended, and came again";
}

TEST_F(CoreTest, AnUnreadTagAtAStationIsDoubtUntilItIsRead) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "A");
  tell(CartReports{.cart = one, .battery = 80, .fault = Fault::overrun});
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_THAT(core->cart(one).trouble, HasSubstr("didn't find the tag at B"));
  read(one, "B");
  EXPECT_EQ(mode(one), CartMode::handling);
  EXPECT_EQ(messages<TellRelease>(one).size(), 1u);
  tell(CartReports{.cart = one, .battery = 80});
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

TEST_F(CoreTest, AnUnreadTagBehindAForkIsDoubtAndHoldsBothBranches) {
  start();
  put_on_floor(one, "K1");
  ask("CAST", "DRY");
  drive_to(one, "B");
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  drive_to(one, "D");
  const std::string goes_to = floor[ways[core->cart(one).path[1].pose].at].id;
  tell(CartReports{.cart = one, .battery = 80, .fault = Fault::overrun});
  EXPECT_EQ(mode(one), CartMode::in_doubt) << "on the way to " << goes_to;
  EXPECT_TRUE(holds(one, "H1") && holds(one, "H2") && holds(one, "E"));
}

// ---- silence ---------------------------------------------------------------------------------

TEST_F(CoreTest, ASilentCartKeepsItsTrackForEverAndGetsNoMore) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto before = core->cart(one);
  tell(CartLinkLost{one});
  EXPECT_TRUE(alarm(AlarmKind::link_lost));
  for (int i = 0; i < 100; ++i) {
    now += std::chrono::hours{1};
    tell(Tick{});
    EXPECT_TRUE(messages<TellAuthority>(one).empty());
  }
  EXPECT_EQ(core->cart(one).holds, before.holds);
  EXPECT_EQ(core->cart(one).authority, before.authority);
}

TEST_F(CoreTest, AGreetingBringsTheReadsThatWereLost) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  const auto view = core->cart(one);
  tell(CartLinkLost{one});
  const PathStep& end = view.path[view.authority];
  greet(one, floor[ways[end.pose].at].id, end.step, end.step);
  EXPECT_EQ(at(one), floor[ways[end.pose].at].id);
  EXPECT_EQ(messages<TellAuthority>(one).size(), 1u);
  EXPECT_FALSE(alarm(AlarmKind::link_lost));
}

TEST_F(CoreTest, ALinkLostBeforeTheFirstAuthorityIsNoDoubt) {
  start();
  put_on_floor(one, "H1");
  tell(CartLinkLost{one});
  tell(CartGreets{.cart = one, .battery = 80});
  EXPECT_EQ(mode(one), CartMode::idle);
  EXPECT_EQ(messages<TellAuthority>(one).size(), 1u);
}

TEST_F(CoreTest, AJobNobodyCanReachSaysSo) {
  start();
  put_on_floor(one, "H1");
  put_on_floor(two, "K1");
  // The cart that is sent is lost on the only way round.
  ask("PACK", "CAST");
  const CartIx sent = *core->job({1})->cart;
  read(sent, sent == one ? "A" : "C");
  ASSERT_EQ(mode(sent), CartMode::in_doubt);
  const JobId id = ask("DRY", "PACK");
  ASSERT_FALSE(core->why(id).empty());
  EXPECT_EQ(core->why(id)[0].kind, Reason::Kind::no_way);
  EXPECT_TRUE(alarm(AlarmKind::no_way));
  tell(Tick{});
  EXPECT_TRUE(last.changes.empty()) << "nothing changed, so nothing is said";
}

TEST_F(CoreTest, AGreetingThatContradictsIsDoubt) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  tell(CartLinkLost{one});
  const auto view = core->cart(one);
  greet(one, "C", view.path[1].step, view.path[1].step);
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_TRUE(holds(one, "C"));
}

TEST_F(CoreTest, ACartThatLostPowerWaitsForAPerson) {
  // ISO 3691-4, 4.1.14 (check-values.md): no automatic restart after power loss.
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  read(one, "E");
  tell(CartLinkLost{one});
  greet(one, "E");
  EXPECT_EQ(mode(one), CartMode::needs_release);
  EXPECT_TRUE(messages<TellAuthority>(one).empty());
  tell(AskReleaseCart{1, one});
  EXPECT_TRUE(accepted());
  EXPECT_EQ(messages<TellAuthority>(one).size(), 1u);
  drive(one);
  EXPECT_EQ(core->job({1})->state, JobState::delivered);
}

// ---- stops -----------------------------------------------------------------------------------

TEST_F(CoreTest, AStopAtTheCartIsReleasedOnlyAtTheCart) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  tell(CartStopped{one, StopCause::button});
  EXPECT_EQ(mode(one), CartMode::needs_release);
  EXPECT_TRUE(carts.at(one).needs_release) << "remembered over a restart";
  tell(AskReleaseCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("Release it at the cart"));
  for (int i = 0; i < 10; ++i) tell(Tick{});
  EXPECT_TRUE(messages<TellAuthority>(one).empty());
  tell(CartReleased{one});
  EXPECT_EQ(mode(one), CartMode::driving);
}

TEST_F(CoreTest, StopAllStopsEveryCartUntilAPersonReleases) {
  start();
  put_on_floor(one, "H1");
  put_on_floor(two, "H2");
  const JobId id = ask("CAST", "DRY");
  tell(AskStopAll{1});
  EXPECT_EQ(messages<TellStop>(one).size(), 1u);
  EXPECT_EQ(messages<TellStop>(two).size(), 1u);
  for (int i = 0; i < 10; ++i) {
    tell(Tick{});
    EXPECT_TRUE(last.messages.empty());
  }
  ask("PACK", "DRY");
  EXPECT_TRUE(messages<TellAuthority>(two).empty()) << "no new errand either";
  tell(AskReleaseCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("release all"));

  start(restored());  // and a restart doesn't set them free
  EXPECT_TRUE(core->all_stopped());
  const auto path = paths.at(one).path;
  greet(one, floor[ways[path[0].pose].at].id, path[0].step, path[1].step);
  EXPECT_TRUE(messages<TellAuthority>(one).empty());
  EXPECT_EQ(messages<TellStop>(one).size(), 1u);
  tell(AskReleaseAll{1});
  EXPECT_EQ(messages<TellRelease>(one).size(), 1u);
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

TEST_F(CoreTest, ReleaseAllDoesNotReleaseACartStoppedByItself) {
  start();
  put_on_floor(one, "H1");
  tell(CartStopped{one, StopCause::bumper});
  tell(AskStopAll{1});
  tell(AskReleaseAll{1});
  EXPECT_TRUE(messages<TellRelease>(one).empty());
  EXPECT_EQ(mode(one), CartMode::needs_release);
}

// ---- restart ---------------------------------------------------------------------------------

TEST_F(CoreTest, AfterARestartACartHoldsItsWholeWayUntilItGreets) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  const auto before = core->cart(one);
  start(restored());
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  for (const PathStep& step : before.path) {
    EXPECT_TRUE(holds(one, floor[ways[step.pose].at].id));
  }
  greet(one, "E", before.path[1].step, before.path[before.authority].step);
  EXPECT_EQ(mode(one), CartMode::driving) << "no contradiction: it goes on without a person";
  EXPECT_EQ(at(one), "E");
  EXPECT_LT(core->cart(one).holds.size(), before.path.size());
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

TEST_F(CoreTest, AfterARestartALoadThatWasPutOnIsNotLoadedAgain) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "B");
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  const auto view = core->cart(one);
  start(restored());
  greet(one, "B", view.path[0].step, view.path[view.authority].step);
  EXPECT_EQ(core->job(id)->state, JobState::loaded);
  EXPECT_NE(mode(one), CartMode::handling);
  drive(one);
  EXPECT_EQ(core->job(id)->state, JobState::delivered);
}

TEST_F(CoreTest, AfterARestartACartThatAlsoLostPowerIsInDoubt) {
  start();
  put_on_floor(one, "H1");
  ask("CAST", "DRY");
  start(restored());
  greet(one, "E");
  EXPECT_EQ(mode(one), CartMode::in_doubt);
  EXPECT_FALSE(core->cart(one).trouble.empty());
}

// ---- people ----------------------------------------------------------------------------------

TEST_F(CoreTest, PlacingAsksForWhatIsMissingAndKeepsCartsApart) {
  start();
  greet(one, "H1");
  tell(AskPlaceCart{1, one, "NOWHERE", ""});
  EXPECT_THAT(refusal(), HasSubstr("No point \"NOWHERE\""));
  tell(AskPlaceCart{1, one, "E", ""});
  EXPECT_THAT(refusal(), HasSubstr("came_from"));
  EXPECT_THAT(refusal(), HasSubstr("\"D\" or \"H1\" or \"H2\""));
  tell(AskPlaceCart{1, one, "H1", ""});
  ASSERT_TRUE(accepted());
  tell(AskPlaceCart{1, one, "H1", ""});
  EXPECT_THAT(refusal(), HasSubstr("is known to be at H1"));
  greet(two, "H1");
  tell(AskPlaceCart{1, two, "H1", ""});
  EXPECT_THAT(refusal(), HasSubstr("cart-1 holds the track at H1"));
  tell(AskPlaceCart{1, two, "C", ""});
  EXPECT_TRUE(accepted()) << "not on a siding, but it can get to one";
  drive(two);
  EXPECT_TRUE(floor[*floor.find_point(at(two))].siding);
}

TEST_F(CoreTest, ACartMayNotBeDeclaredGoneWhileItMayBeDriving) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  tell(AskRemoveCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("may be driving"));
  tell(AskStopCart{1, one});
  tell(AskRemoveCart{1, one});
  EXPECT_TRUE(accepted());
  EXPECT_TRUE(core->cart(one).holds.empty());
  EXPECT_EQ(core->job(id)->state, JobState::queued);
  EXPECT_THAT(core->job(id)->reason, HasSubstr("taken off the floor"));
}

TEST_F(CoreTest, ALoadTakenOffTheFloorIsStranded) {
  start();
  put_on_floor(one, "H1");
  const JobId id = ask("CAST", "DRY");
  drive_to(one, "B");
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  tell(AskStopCart{1, one});
  tell(AskRemoveCart{1, one});
  EXPECT_EQ(core->job(id)->state, JobState::stranded);
  EXPECT_TRUE(alarm(AlarmKind::stranded_load));
}

TEST_F(CoreTest, TwoCartsHaveTwoJobsAndWaitForEachOtherWithAReason) {
  start();
  put_on_floor(one, "H1");
  put_on_floor(two, "H2");
  ask("PACK", "DRY");
  ask("DRY", "CAST");
  EXPECT_EQ(core->job({1})->state, JobState::assigned);
  EXPECT_EQ(core->job({2})->state, JobState::assigned);
  EXPECT_EQ(mode(two), CartMode::waiting);
  const auto waits = core->cart(two).waits_for;
  ASSERT_TRUE(waits);
  EXPECT_EQ(waits->cart, one);
  EXPECT_EQ(track.name(waits->piece), "E");
  EXPECT_EQ(messages<TellHold>(two).at(0).reason, "Waits for E: cart-1 goes first");
}

TEST_F(CoreTest, ALowBatteryTakesNoJob) {
  start();
  put_on_floor(one, "H1");
  tell(CartReports{.cart = one, .battery = 24});
  const JobId id = ask("CAST", "DRY");
  EXPECT_EQ(core->job(id)->state, JobState::queued);
  EXPECT_TRUE(alarm(AlarmKind::battery_low));
  tell(CartReports{.cart = one, .battery = 59});
  EXPECT_EQ(core->job(id)->state, JobState::queued);
  tell(CartReports{.cart = one, .battery = 60});
  EXPECT_EQ(core->job(id)->state, JobState::assigned);
}

TEST_F(CoreTest, EqualEventsGiveEqualOutcomes) {
  const auto run = [&] {
    now = Instant{std::chrono::seconds{1'800'000'000}};
    start();
    std::string log;
    put_on_floor(one, "H1");
    put_on_floor(two, "H2");
    ask("CAST", "DRY");
    ask("DRY", "PACK");
    for (int i = 0; i < 60; ++i) {
      for (const CartIx cart : {one, two}) {
        const CartView view = core->cart(cart);
        if (view.mode == CartMode::driving) {
          tell(CartReads{cart, floor[ways[view.path[1].pose].at].tags[0], view.path[1].step});
        } else if (view.mode == CartMode::handling) {
          const bool load = view.path[0].act == Act::load;
          tell(CartHandled{cart, view.path[0].step, load ? Handling::load : Handling::unload});
        }
        for (const auto& told : messages<TellAuthority>(cart)) {
          log += std::to_string(told.trip) + ":";
          for (const auto& point : told.points) log += floor[point.point].id + " ";
        }
      }
    }
    return log;
  };
  const std::string first = run();
  EXPECT_EQ(core->job({1})->state, JobState::delivered);
  EXPECT_EQ(core->job({2})->state, JobState::delivered);
  EXPECT_EQ(run(), first);
}

}  // namespace
}  // namespace tagline::control
