// What people take out of service, and zones they stop: who may go where then, who is led round,
// what is said of it, and that nothing moves again by itself.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;
using Kind = Reason::Kind;

/// The loop with a shortcut C - X - F; the shortcut is the zone "Drying room".
class Closing : public CoreTest {
 protected:
  Closing() : CoreTest(with_zone()) {}
  static floor::Floor with_zone() {
    floor::Floor floor = test::loop_with_shortcut();
    floor.zones.push_back(
        {"DRYING", "Drying room", {*floor.find_segment("CX"), *floor.find_segment("XF")}});
    return floor;
  }
  void SetUp() override {
    start();
    put_on_floor(one, "K1");
  }
  SegmentIx segment(const std::string& id) const { return *floor.find_segment(id); }
  StationIx station(const std::string& id) const { return *floor.find_station(id); }
  void down(const Facility& what, const std::string& reason = "new tape") {
    tell(AskTakeDown{.request = 1, .what = what, .reason = reason});
    ASSERT_TRUE(accepted()) << refusal();
  }
  void up(const Facility& what) {
    tell(AskBringUp{1, what});
    ASSERT_TRUE(accepted()) << refusal();
  }
  void load_at_cast() {
    drive_to(one, "B");
    tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  }
  /// Its way leads over that point.
  bool goes_over(CartIx cart, const std::string& point) const {
    for (const PathStep& step : core->cart(cart).path) {
      if (floor[ways[step.pose].at].id == point) return true;
    }
    return false;
  }
  Kind root(CartIx cart) const { return core->why(cart).back().kind; }

  const ZoneIx drying{0};
};

TEST_F(Closing, WaysLeadRoundASegmentThatIsOutOfService) {
  const JobId job = ask("CAST", "PACK");
  ASSERT_TRUE(goes_over(one, "X")) << "the shortcut is shorter";
  ASSERT_FALSE(holds(one, "CX"));
  down(segment("CX"));
  load_at_cast();
  EXPECT_TRUE(goes_over(one, "D"));
  EXPECT_FALSE(goes_over(one, "X"));
  ASSERT_THAT(core->downtimes(), SizeIs(1));
  EXPECT_TRUE(core->downtimes()[0].begun);
  EXPECT_TRUE(core->downtimes()[0].clear);
  drive(one);
  EXPECT_EQ(jobs.at(job).state, JobState::delivered);
  up(segment("CX"));
  EXPECT_THAT(core->downtimes(), IsEmpty());
  ask("CAST", "PACK");
  EXPECT_TRUE(goes_over(one, "X"));
}

TEST_F(Closing, WhatWasGrantedStaysGrantedAndIsNotClear) {
  ask("CAST", "PACK");
  load_at_cast();
  ASSERT_TRUE(holds(one, "CX"));
  const Step until = core->cart(one).path[core->cart(one).authority].step;
  down(segment("CX"));
  EXPECT_FALSE(core->downtimes()[0].clear) << "it may drive there any moment";
  const CartView view = core->cart(one);
  EXPECT_GE(view.path[view.authority].step, until);
  drive_to(one, "F");
  EXPECT_TRUE(core->downtimes()[0].clear);
}

TEST_F(Closing, ACartThatHasNoOtherWayWaitsBeforeItAndSaysSo) {
  const JobId job = ask("CAST", "DRY");
  drive_to(one, "B");
  down(segment("XF"));
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  drive(one);
  EXPECT_EQ(jobs.at(job).state, JobState::delivered) << "DRY is before the closed segment";
  ASSERT_EQ(at(one), "X");
  EXPECT_EQ(mode(one), CartMode::waiting);
  const auto why = core->why(one);
  ASSERT_THAT(why, SizeIs(1));
  EXPECT_EQ(why[0].kind, Kind::out_of_service);
  EXPECT_EQ(track.name(*why[0].piece), "XF");
  up(segment("XF"));
  EXPECT_EQ(mode(one), CartMode::driving);
  drive(one);
  EXPECT_EQ(mode(one), CartMode::idle);
}

TEST_F(Closing, AJobThatCannotBeReachedSaysSoAndGoesOnWhenItCan) {
  down(segment("CX"));
  const JobId job = ask("DRY", "PACK");
  EXPECT_EQ(core->why(job).at(0).kind, Kind::no_way);
  EXPECT_TRUE(alarm(AlarmKind::no_way));
  up(segment("CX"));
  EXPECT_EQ(jobs.at(job).state, JobState::assigned);
}

TEST_F(Closing, ACartOnTheClosedSegmentMayLeaveIt) {
  ask("CAST", "PACK");
  load_at_cast();
  drive_to(one, "X");  // its tail lies on CX
  ASSERT_TRUE(holds(one, "CX"));
  down(segment("CX"));
  drive(one);
  EXPECT_EQ(mode(one), CartMode::idle) << "it has delivered and gone to rest";
}

TEST_F(Closing, AStationOutOfServiceHoldsItsJobsBackButNotTheLoadsOnTheirWay) {
  const JobId on_its_way = ask("CAST", "PACK");
  load_at_cast();
  down(station("PACK"));
  const JobId later = ask("DRY", "PACK");
  EXPECT_FALSE(core->downtimes()[0].clear);
  drive(one);
  EXPECT_EQ(jobs.at(on_its_way).state, JobState::delivered);
  EXPECT_TRUE(core->downtimes()[0].clear);
  tell(Tick{});
  EXPECT_EQ(core->job(later)->state, JobState::queued);
  const auto why = core->why(later);
  ASSERT_THAT(why, SizeIs(1));
  EXPECT_EQ(why[0].kind, Kind::station_down);
  EXPECT_EQ(*why[0].station, station("PACK"));
  up(station("PACK"));
  EXPECT_EQ(core->job(later)->state, JobState::assigned);
}

TEST_F(Closing, AJobNotYetUnderWayIsTakenBackWhenItsStationGoesDown) {
  const JobId job = ask("GLAZE", "PACK");
  ASSERT_EQ(jobs.at(job).state, JobState::assigned);
  down(station("GLAZE"));
  EXPECT_EQ(jobs.at(job).state, JobState::queued);
  EXPECT_EQ(core->why(job).at(0).kind, Kind::station_down);
}

TEST_F(Closing, ACartOutOfServiceFinishesItsLoadAndTakesNoMore) {
  const JobId first = ask("CAST", "PACK");
  load_at_cast();
  down(one, "yearly inspection");
  EXPECT_FALSE(core->downtimes()[0].clear);
  const JobId second = ask("CAST", "PACK");
  drive(one);
  EXPECT_EQ(jobs.at(first).state, JobState::delivered);
  EXPECT_EQ(core->job(second)->state, JobState::queued);
  EXPECT_EQ(core->why(second).at(0).kind, Kind::no_cart);
  EXPECT_EQ(mode(one), CartMode::idle);
  EXPECT_EQ(root(one), Kind::out_of_service);
  EXPECT_TRUE(core->downtimes()[0].clear);
  up(one);
  EXPECT_EQ(core->job(second)->state, JobState::assigned);
}

TEST_F(Closing, APlannedDowntimeBeginsAtItsTime) {
  tell(AskTakeDown{.request = 1,
                   .what = segment("CX"),
                   .reason = "new tape",
                   .from = now + std::chrono::seconds{60},
                   .until = now + std::chrono::seconds{120}});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_FALSE(core->downtimes().at(0).begun);
  ask("CAST", "PACK");
  EXPECT_TRUE(goes_over(one, "X"));
  for (int k = 0; k < 62; ++k) tell(Tick{});
  EXPECT_TRUE(core->downtimes().at(0).begun);
  load_at_cast();
  EXPECT_FALSE(goes_over(one, "X")) << "led round when it began";
  for (int k = 0; k < 120; ++k) tell(Tick{});
  EXPECT_TRUE(core->downtimes().at(0).begun) << "it comes back by a person only";
}

TEST_F(Closing, DowntimesThatMakeNoSenseAreRefused) {
  tell(AskBringUp{1, station("DRY")});
  EXPECT_THAT(refusal(), HasSubstr("in service already"));
  tell(AskTakeDown{1, one, std::string(longest_downtime_reason + 1, 'x'), {}, {}});
  EXPECT_THAT(refusal(), HasSubstr("longer than 200"));
  tell(AskTakeDown{1, one, "", now + std::chrono::hours{2}, now + std::chrono::hours{1}});
  EXPECT_THAT(refusal(), HasSubstr("after its downtime begins"));
  tell(AskTakeDown{1, one, "", now + std::chrono::hours{24 * 500}, {}});
  EXPECT_THAT(refusal(), HasSubstr("400 days"));
  EXPECT_THAT(core->downtimes(), IsEmpty());
}

TEST_F(Closing, AStoppedZoneStopsWhoIsInItAndKeepsOthersOut) {
  put_on_floor(two, "K2");
  ask("CAST", "PACK");
  load_at_cast();
  drive_to(one, "X");
  tell(AskStopZone{1, drying});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_THAT(messages<TellStop>(one), SizeIs(1));
  EXPECT_THAT(messages<TellStop>(two), IsEmpty());
  EXPECT_EQ(mode(one), CartMode::needs_release);
  EXPECT_EQ(root(one), Kind::zone_stopped);
  EXPECT_TRUE(alarm(AlarmKind::zone_stopped));

  const JobId second = ask("CAST", "GLAZE");
  drive(two);
  EXPECT_EQ(jobs.at(second).state, JobState::delivered) << "the other lane is free";

  tell(AskReleaseCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("Drying room"));
  read(one, "F");  // it had rolled on
  EXPECT_EQ(mode(one), CartMode::needs_release) << "leaving the zone releases nobody";

  tell(AskReleaseZone{1, drying});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_THAT(messages<TellRelease>(one), SizeIs(1));
  EXPECT_FALSE(alarm(AlarmKind::zone_stopped));
  drive(one);
  drive(two);
  drive(one);
  EXPECT_EQ(mode(one), CartMode::idle);
  tell(AskReleaseZone{1, drying});
  EXPECT_THAT(refusal(), HasSubstr("is not stopped"));
}

TEST_F(Closing, ACartWithNoWayButThroughTheStoppedZoneWaitsBeforeIt) {
  tell(AskStopZone{1, drying});
  const JobId job = ask("DRY", "PACK");
  EXPECT_EQ(core->why(job).at(0).kind, Kind::no_way);
  tell(AskReleaseZone{1, drying});
  ASSERT_FALSE(holds(one, "X"));
  tell(AskStopZone{1, drying});
  drive(one);
  EXPECT_NE(mode(one), CartMode::needs_release) << "it never got in";
  EXPECT_FALSE(holds(one, "CX"));
  tell(AskReleaseZone{1, drying});
  drive(one);
  EXPECT_EQ(core->job(job)->state, JobState::delivered);
}

TEST_F(Closing, ReleasingTheZoneDoesNotReleaseACartStoppedByItself) {
  ask("CAST", "PACK");
  load_at_cast();
  drive_to(one, "X");
  tell(AskStopZone{1, drying});
  tell(AskStopCart{1, one});
  tell(AskReleaseZone{1, drying});
  EXPECT_THAT(messages<TellRelease>(one), IsEmpty());
  EXPECT_EQ(mode(one), CartMode::needs_release);
  tell(AskReleaseCart{1, one});
  EXPECT_TRUE(accepted()) << refusal();
  EXPECT_THAT(messages<TellRelease>(one), SizeIs(1));
}

TEST_F(Closing, ACartSetDownInAStoppedZoneStaysStopped) {
  tell(AskRemoveCart{1, one});
  tell(AskStopZone{1, drying});
  tell(AskPlaceCart{1, one, "X", ""});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_THAT(messages<TellRelease>(one), IsEmpty());
  EXPECT_EQ(mode(one), CartMode::needs_release);
  tell(AskReleaseZone{1, drying});
  EXPECT_EQ(mode(one), CartMode::driving) << "to a place of rest";
}

TEST_F(Closing, AZonesStopAndDowntimesOutliveARestart) {
  ask("CAST", "PACK");
  load_at_cast();
  drive_to(one, "X");
  tell(AskStopZone{1, drying});
  down(station("PACK"), "kiln change");
  const CartView before = core->cart(one);
  start(restored());
  EXPECT_THAT(core->stopped_zones(), SizeIs(1));
  ASSERT_THAT(core->downtimes(), SizeIs(1));
  EXPECT_EQ(core->downtimes()[0].downtime.reason, "kiln change");
  greet(one, "X", before.path[0].step, before.path[before.authority].step);
  EXPECT_EQ(mode(one), CartMode::needs_release);
  EXPECT_THAT(messages<TellRelease>(one), IsEmpty());
  EXPECT_FALSE(messages<TellStop>(one).empty());
  EXPECT_EQ(root(one), Kind::zone_stopped);
  tell(AskReleaseCart{1, one});
  EXPECT_THAT(refusal(), HasSubstr("Drying room"));
  tell(AskReleaseZone{1, drying});
  EXPECT_EQ(mode(one), CartMode::needs_release) << "it was stopped when the service restarted";
  tell(AskReleaseCart{1, one});
  EXPECT_EQ(mode(one), CartMode::driving);
}

}  // namespace
}  // namespace tagline::control
