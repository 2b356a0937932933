// The board's model: texts, revisions, resuming.
#include "server/net/board_model.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <nlohmann/json.hpp>
#include <utility>

#include "server/net/live_hub.hpp"
#include "tests/support/floor_builder.hpp"
#include "tests/unit/net/fakes.hpp"

namespace tagline::net::test {
namespace {

using nlohmann::json;

class BoardModelTest : public ::testing::Test {
 protected:
  static Views one_cart(int battery, bool connected = true) {
    Views views;
    control::CartView cart;
    cart.cart = CartIx{1};
    cart.battery = battery;
    cart.connected = connected;
    views.carts.push_back({cart, {}});
    return views;
  }
  static control::Reason no_cart(std::uint64_t job) {
    control::Reason reason;
    reason.kind = control::Reason::Kind::no_cart;
    reason.job = control::JobId{job};
    return reason;
  }
  static Views one_job(std::uint64_t id, control::JobState state, std::int64_t ended = 0) {
    Views views;
    control::Job job;
    job.id = {id};
    job.from = StationIx{0};
    job.to = StationIx{1};
    job.state = state;
    if (control::is_final(state)) job.ended_at = Instant{Duration{ended}};
    views.jobs.push_back({job, {}});
    if (state == control::JobState::queued) views.jobs.back().why.push_back(no_cart(id));
    return views;
  }
  static Views loads_at(std::uint32_t station, int loads) {
    Views views;
    views.stations.push_back({StationIx{station}, loads});
    return views;
  }
  static std::vector<int> ids(const std::string& jobs_json) {
    std::vector<int> out;
    const json whole = json::parse(jobs_json);
    for (const json& job : whole.at("jobs")) out.push_back(job.at("id"));
    return out;
  }

  static floor::Floor three_points() {
    floor::Floor floor = tagline::test::FloorBuilder{}
                             .point("A", 0, 0)
                             .point("B", 2000, 0)
                             .point("C", 4000, 0)
                             .segment("S1", "A", "B")
                             .segment("S2", "B", "C")
                             .station("CAST", "A")
                             .station("DRY", "C")
                             .build();
    floor.stations[1].capacity = 3;
    return floor;
  }
  floor::Floor floor = three_points();
  floor::Ways ways{floor};
  floor::Track track{ways};
  std::vector<std::string> names{"cart-1", "cart-2"};
  BoardModel model{track, names, {2, {}, "a third cart would lock the loop at B"}, 5, "run1"};
  Instant now{Duration{0}};
};

TEST_F(BoardModelTest, ExpectedMomentsAreToldAnewOnlyWhenTheyHaveMovedBySeconds) {
  const auto expect_at = [&](std::optional<std::int64_t> pickup_s, std::int64_t delivery_s) {
    Views views = one_job(1, control::JobState::assigned);
    views.jobs[0].expected.emplace();
    if (pickup_s) views.jobs[0].expected->pickup = Instant{Duration{*pickup_s * 1000}};
    views.jobs[0].expected->delivery = Instant{Duration{delivery_s * 1000}};
    return model.apply(views);
  };
  EXPECT_TRUE(expect_at(100, 200));
  const json told = json::parse(model.snapshot(Instant{})).at("jobs").at(0);
  EXPECT_EQ(told.at("expected_pickup"), "1970-01-01T00:01:40.000Z");
  EXPECT_EQ(told.at("expected_delivery"), "1970-01-01T00:03:20.000Z");
  EXPECT_FALSE(expect_at(109, 191));  // about the same
  EXPECT_TRUE(expect_at(110, 200));
  EXPECT_FALSE(expect_at(101, 209));  // compared with what is shown, not with what was refused
  EXPECT_TRUE(expect_at(std::nullopt, 209));                          // it is there
  EXPECT_TRUE(model.apply(one_job(1, control::JobState::assigned)));  // nobody can tell any more
  EXPECT_TRUE(
      json::parse(model.snapshot(Instant{})).at("jobs").at(0).at("expected_delivery").is_null());
}

TEST_F(BoardModelTest, FloorHasIdsLinesAndFigures) {
  const json view = json::parse(model.floor_json());
  EXPECT_EQ(view.at("pace"), 5);
  EXPECT_EQ(view.at("cart").at("length"), 600);
  EXPECT_EQ(view.at("points").size(), 3u);
  EXPECT_EQ(view.at("points")[1].at("id"), "B");
  EXPECT_EQ(view.at("points")[1].at("tagged"), true);
  EXPECT_EQ(view.at("segments")[0].at("line"), json::parse("[[0.0,0.0],[2000.0,0.0]]"));
  EXPECT_EQ(view.at("stations")[1].at("point"), "C");
  EXPECT_EQ(view.at("live_limit").at("carts"), 2);
  EXPECT_EQ(view.at("live_limit").at("reason"), "a third cart would lock the loop at B");
}

TEST_F(BoardModelTest, CartPathNamesTrackAndDirection) {
  Views views;
  control::CartView cart;
  cart.cart = CartIx{0};
  cart.mode = control::CartMode::driving;
  const auto at = [&](const char* id) { return ways.poses_at(*floor.find_point(id)).front(); };
  cart.path = {{4, at("B"), control::Act::go}, {5, at("C"), control::Act::unload}};
  cart.authority = 1;
  cart.holds = {track.piece(PointIx{1}), track.piece(SegmentIx{1})};
  cart.waits_for = control::WaitsFor{track.piece(PointIx{2}), CartIx{1}, now, true};
  views.carts.push_back({cart, {}});
  model.apply(views);
  const json view = json::parse(model.cart_json(CartIx{0}));
  EXPECT_EQ(view.at("id"), "cart-1");
  EXPECT_EQ(view.at("mode"), "driving");
  EXPECT_EQ(view.at("path")[0].at("segment"), "S1");
  EXPECT_EQ(view.at("path")[1].at("segment"), "S2");
  EXPECT_EQ(view.at("path")[1].at("reversed"), false);
  EXPECT_EQ(view.at("path")[1].at("act"), "unload");
  EXPECT_EQ(view.at("holds"), (json{"B", "S2"}));
  EXPECT_EQ(view.at("waits_for").at("track"), "C");
  EXPECT_EQ(view.at("waits_for").at("cart"), "cart-2");
  EXPECT_EQ(view.at("waits_for").at("for_turn"), true);
  EXPECT_EQ(view.at("why"), json::array());
  EXPECT_EQ(view.at("job"), nullptr);
}

TEST_F(BoardModelTest, SpurAndTwoWayAreShownAsDriven) {
  const floor::Floor yard = tagline::test::FloorBuilder{}
                                .point("A", 0, 0)
                                .point("B", 2000, 0)
                                .point("K", 2000, 2000)
                                .segment("S1", "A", "B")
                                .two_way()
                                .segment("S2", "B", "K")
                                .spur()
                                .build();
  const floor::Ways yard_ways{yard};
  const floor::Track yard_track{yard_ways};
  const JsonView view{yard_track, names};
  // Into the spur and back out: find the poses by walking the moves.
  for (std::uint32_t k = 0; k < yard_ways.pose_count(); ++k) {
    if (!yard_ways[PoseIx{k}].entry) continue;
    const PoseIx inside{k}, mouth = *yard_ways[inside].entry;
    control::CartView cart;
    cart.cart = CartIx{0};
    cart.path = {{1, mouth, {}}, {2, inside, {}}, {3, mouth, {}}};
    const json path = json::parse(view.cart(cart, "[]")).at("path");
    EXPECT_EQ(path[1].at("segment"), "S2");
    EXPECT_EQ(path[1].at("reversed"), false);
    EXPECT_EQ(path[1].at("back"), false);
    EXPECT_EQ(path[2].at("segment"), "S2");
    EXPECT_EQ(path[2].at("reversed"), true);
    EXPECT_EQ(path[2].at("back"), true);
    return;
  }
  FAIL() << "the floor has no spur pose";
}

TEST_F(BoardModelTest, OnlyWhatChangedMakesARevision) {
  EXPECT_EQ(model.next_change(now), nullptr);
  EXPECT_TRUE(model.apply(one_cart(80)));
  const json first = json::parse(*model.next_change(now));
  EXPECT_EQ(first.at("rev"), 1);
  EXPECT_EQ(first.at("carts").size(), 1u);
  EXPECT_EQ(first.at("carts")[0].at("battery"), 80);
  EXPECT_FALSE(first.contains("jobs"));
  EXPECT_FALSE(first.contains("alarms"));
  model.apply(one_cart(80));
  EXPECT_EQ(model.next_change(now), nullptr);
  model.apply(one_cart(79));
  model.apply(one_job(4, control::JobState::queued));
  const json second = json::parse(*model.next_change(now));
  EXPECT_EQ(second.at("rev"), 2);
  EXPECT_EQ(second.at("jobs")[0].at("why")[0].at("kind"), "no_cart");
  EXPECT_FALSE(second.contains("stations"));
  EXPECT_EQ(model.connected_carts(), 1u);
}

TEST_F(BoardModelTest, AJobShowsItsStopsAndWhenItIsDue) {
  Views views = one_job(4, control::JobState::queued);
  control::Job& job = views.jobs[0].job;
  job.via = {{StationIx{1}, control::Handling::unload}, {StationIx{0}, control::Handling::load}};
  job.stops_done = 2;
  job.due = Instant{Duration{61'500}};
  model.apply(views);
  const json shown = json::parse(model.job_json(control::JobId{4}));
  EXPECT_EQ(shown.at("via"), json::parse(R"([{"station":"DRY","what":"unload"},
                                             {"station":"CAST","what":"load"}])"));
  EXPECT_EQ(shown.at("stops_done"), 2);
  EXPECT_EQ(shown.at("due"), "1970-01-01T00:01:01.500Z");
  model.apply(one_job(5, control::JobState::queued));
  const json plain = json::parse(model.job_json(control::JobId{5}));
  EXPECT_EQ(plain.at("via"), json::array());
  EXPECT_EQ(plain.at("due"), nullptr);
}

TEST_F(BoardModelTest, AChainIsShownWithItsThingAndAlone) {
  Views views = one_cart(80);
  control::Reason reason;
  reason.kind = control::Reason::Kind::all_stopped;
  views.carts[0].why = {reason};
  EXPECT_TRUE(model.apply(views));
  const json change = json::parse(*model.next_change(now));
  EXPECT_EQ(change.at("carts")[0].at("why")[0].at("text"), "A person has stopped all carts.");
  EXPECT_EQ(json::parse(model.cart_why_json(CartIx{1})).at("why"), change.at("carts")[0].at("why"));
  EXPECT_EQ(json::parse(model.cart_why_json(CartIx{0})).at("why"), json::array());
  model.apply(views);
  EXPECT_EQ(model.next_change(now), nullptr);
  model.apply(one_cart(80));
  EXPECT_NE(model.next_change(now), nullptr) << "a chain that is gone is a change";
  EXPECT_EQ(json::parse(model.cart_why_json(CartIx{1})).at("why"), json::array());

  model.apply(one_job(4, control::JobState::queued));
  EXPECT_EQ(json::parse(model.job_why_json({4})).at("why"),
            json::parse(model.job_json(control::JobId{4})).at("why"));
  EXPECT_EQ(json::parse(model.job_why_json({4})).at("why").size(), 1u);
  EXPECT_EQ(json::parse(model.job_why_json({99})).at("why"), json::array());
}

TEST_F(BoardModelTest, LoadsAreShownWhereTheyAreCountedAndLiveWhenTheyChange) {
  EXPECT_EQ(json::parse(model.stations_json()).at("stations")[1].at("loads"), nullptr);
  EXPECT_TRUE(model.apply(loads_at(1, 2)));
  EXPECT_FALSE(model.apply(loads_at(1, 2)));
  const json change = json::parse(*model.next_change(now));
  const json dry = json::parse(R"({"id":"DRY","name":"DRY","point":"C","capacity":3,"loads":2})");
  EXPECT_EQ(change.at("stations"), json::array({dry}));
  EXPECT_FALSE(change.contains("carts"));
  EXPECT_EQ(model.next_change(now), nullptr);
  EXPECT_EQ(json::parse(model.station_json(StationIx{1})), dry);
  EXPECT_EQ(json::parse(model.floor_json()).at("stations")[1], dry);
  EXPECT_EQ(json::parse(model.floor_json()).at("stations")[0].at("capacity"), nullptr);
  EXPECT_EQ(json::parse(model.stations_json()).at("stations").size(), 2u);
  EXPECT_EQ(json::parse(model.snapshot(now)).at("stations"), json::array({dry}));
}

TEST_F(BoardModelTest, ResumeGivesExactlyTheMissedRevisions) {
  for (int k = 1; k <= 10; ++k) {
    model.apply(one_cart(k));
    model.next_change(now);
  }
  const auto missed = model.resume("run1", 7, now);
  ASSERT_TRUE(missed);
  ASSERT_EQ(missed->size(), 4u);
  EXPECT_EQ(json::parse(*(*missed)[0]).at("type"), "resumed");
  EXPECT_EQ(json::parse(*(*missed)[0]).at("rev"), 10);
  for (std::size_t k = 1; k <= 3; ++k)
    EXPECT_EQ(json::parse(*(*missed)[k]).at("rev"), 7 + static_cast<int>(k));
  EXPECT_EQ(model.resume("run1", 10, now)->size(), 1u);  // nothing missed
  EXPECT_FALSE(model.resume("run0", 7, now));            // another run
  EXPECT_FALSE(model.resume("run1", 11, now));           // from the future
}

TEST_F(BoardModelTest, OldRevisionsAreGivenUp) {
  for (std::size_t k = 0; k < BoardModel::kept_changes + 5; ++k) {
    model.apply(one_cart(static_cast<int>(k)));
    model.next_change(now);
  }
  EXPECT_FALSE(model.resume("run1", 4, now));
  const auto missed = model.resume("run1", 5, now);
  ASSERT_TRUE(missed);
  EXPECT_EQ(missed->size(), BoardModel::kept_changes + 1);
}

TEST_F(BoardModelTest, WhileNobodyEverWatchedNoRevisionIsMade) {
  const ServiceClock clock({}, 1);
  LiveHub hub(model, clock, [](const std::function<void()>& task) { task(); });
  model.apply(one_cart(80));
  hub.publish();
  EXPECT_EQ(json::parse(model.snapshot(now)).at("rev"), 0);
  FakeLink board(hub.new_peer({}));
  const json snapshot = json::parse(board.sent.at(0));
  EXPECT_EQ(snapshot.at("rev"), 1);  // all that changed so far is one revision
  EXPECT_EQ(snapshot.at("carts")[1].at("battery"), 80);
  model.apply(one_cart(79));
  hub.publish();
  EXPECT_EQ(json::parse(board.sent.at(1)).at("rev"), 2);
  board.drop();
  model.apply(one_cart(78));
  hub.publish();  // it may come back
  EXPECT_EQ(json::parse(model.snapshot(now)).at("rev"), 3);
}

/// A hub with boards whose rounds go on only when told to.
class ManyBoardsTest : public BoardModelTest {
 protected:
  void change_and_publish(int battery) {
    model.apply(one_cart(battery));
    hub.publish();
  }
  bool go_on() {
    const std::vector<std::function<void()>> now_posted = std::exchange(posted, {});
    for (const auto& task : now_posted) task();
    return !now_posted.empty();
  }
  static int last_rev(const FakeLink& board) { return json::parse(board.sent.back()).at("rev"); }
  std::vector<int> last_revs() const {
    std::vector<int> revs;
    for (const auto& board : boards) revs.push_back(last_rev(*board));
    return revs;
  }
  std::vector<std::function<void()>> posted;
  const ServiceClock clock{{}, 1};
  LiveHub hub{model, clock,
              [this](std::function<void()> task) { posted.push_back(std::move(task)); }};
  std::vector<std::unique_ptr<FakeLink>> boards;
};

TEST_F(ManyBoardsTest, AreSentAFewAtATimeAndAllInOrder) {
  for (int k = 0; k < 30; ++k) boards.push_back(std::make_unique<FakeLink>(hub.new_peer({})));
  change_and_publish(79);
  const auto at_once = std::ranges::count(last_revs(), 1);
  EXPECT_GE(at_once, 1);
  EXPECT_LE(at_once, 10);
  change_and_publish(78);  // before all have had the first
  EXPECT_EQ(std::ranges::count(last_revs(), 1), at_once);
  // Who comes now has both in the snapshot; who goes is not missed.
  FakeLink late(hub.new_peer({}));
  EXPECT_EQ(last_rev(late), 2);
  boards.back()->drop();
  boards.pop_back();
  while (go_on()) {
  }
  for (const auto& board : boards) {
    ASSERT_EQ(board->sent.size(), 3u);
    EXPECT_EQ(json::parse(board->sent[1]).at("rev"), 1);
    EXPECT_EQ(json::parse(board->sent[2]).at("rev"), 2);
  }
  EXPECT_EQ(late.sent.size(), 1u);
}

TEST_F(ManyBoardsTest, HaveHadEverythingBeforeTheirLinksAreClosed) {
  for (int k = 0; k < 30; ++k) boards.push_back(std::make_unique<FakeLink>(hub.new_peer({})));
  change_and_publish(79);
  hub.close_all(1001, "the service is stopping");
  EXPECT_EQ(std::ranges::count(last_revs(), 1), 30);
  go_on();  // the task that was posted finds nothing left
}

TEST_F(BoardModelTest, OpenJobsByAgeThenEndedOnesLatestFirst) {
  model.apply(one_job(1, control::JobState::delivered, 500));
  model.apply(one_job(2, control::JobState::queued));
  model.apply(one_job(3, control::JobState::cancelled, 900));
  model.apply(one_job(4, control::JobState::loaded));
  EXPECT_EQ(ids(model.jobs_json({}, 10)), (std::vector<int>{2, 4, 3, 1}));
  EXPECT_EQ(ids(model.jobs_json({}, 3)), (std::vector<int>{2, 4, 3}));
  EXPECT_EQ(ids(model.jobs_json(control::JobState::delivered, 10)), (std::vector<int>{1}));
  model.apply(one_job(2, control::JobState::delivered, 700));
  EXPECT_EQ(ids(model.jobs_json({}, 10)), (std::vector<int>{4, 3, 2, 1}));
}

TEST_F(BoardModelTest, EndedJobsAreForgottenInTheEnd) {
  for (std::uint64_t id = 1; id <= BoardModel::kept_ended_jobs + 3; ++id)
    model.apply(one_job(id, control::JobState::delivered, static_cast<std::int64_t>(id)));
  EXPECT_EQ(model.job({3}), nullptr);
  EXPECT_NE(model.job({4}), nullptr);
  EXPECT_NE(model.next_change(now), nullptr);
  const json snapshot = json::parse(model.snapshot(now));
  EXPECT_EQ(snapshot.at("jobs").size(), BoardModel::snapshot_ended_jobs);
  EXPECT_EQ(snapshot.at("rev"), 1);
  EXPECT_EQ(snapshot.at("carts").size(), 2u);
}

}  // namespace
}  // namespace tagline::net::test
