// What is written is what is found after a restart.
#include <gmock/gmock.h>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using control::JobState;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;

class RoundTrip : public testing::Test {
 protected:
  Store open() { return Store(folder.data(), works.ways, three_carts); }
  Found reopened(std::int64_t ms = 1000) { return open().load(at(ms)); }
  void write_once(std::int64_t ms, const Batch& one) {
    Store store = open();
    write(store, ms, one);
  }
  [[nodiscard]] PointIx point(std::string_view id) const {
    return works.floor.find_point(id).value();
  }
  [[nodiscard]] TimedTrace read_at(std::int64_t ms, control::Step step, std::string_view id,
                                   std::vector<PointIx> missed = {}) const {
    return {at(ms), control::ReadTrace{CartIx{1}, point(id), step, std::move(missed)}};
  }
  /// The steps of cart-2's path found on opening.
  std::vector<control::Step> steps_found() {
    std::vector<control::Step> steps;
    const Found found = reopened();
    EXPECT_THAT(found.restored.paths, SizeIs(1));
    for (const auto& step : found.restored.paths.at(0).path) steps.push_back(step.step);
    return steps;
  }

  Works works;
  TempFolder folder;
};

TEST_F(RoundTrip, ANewDatabaseIsEmpty) {
  const Found found = reopened();
  EXPECT_THAT(found.restored.jobs, IsEmpty());
  EXPECT_EQ(found.restored.last_job, 0U);
  EXPECT_THAT(found.restored.paths, IsEmpty());
  EXPECT_THAT(found.restored.carts, IsEmpty());
  EXPECT_FALSE(found.restored.fleet.all_stopped);
  EXPECT_FALSE(found.floor_changed);
  EXPECT_THAT(found.restored.stations, IsEmpty());
  EXPECT_THAT(found.notes, IsEmpty());
  EXPECT_EQ(found.latest, Instant{});
}

TEST_F(RoundTrip, EveryFieldOfAJob) {
  control::Job full = queued_job(7, 10);
  full.from = StationIx{2};
  full.to = StationIx{0};
  full.state = JobState::loaded;
  full.priority = 9;
  full.note = std::string("Vases; 'fragile' \xC3\xA4\n") + '\0' + "end";
  full.key = "k-1";
  full.cart = CartIx{2};
  full.via = {{StationIx{1}, control::Handling::unload}, {StationIx{1}, control::Handling::load}};
  full.stops_done = 3;
  full.due = at(7'200'000);
  full.changed = at(20);
  full.loaded_at = at(20);
  control::Job ended = queued_job(8, 11);
  ended.state = JobState::cancelled;
  ended.changed = at(30);
  ended.ended_at = at(30);
  ended.reason = "asked by a person";
  write_once(30, batch({control::JobRecord{full}, control::JobRecord{ended}}));

  const Found found = reopened();
  ASSERT_THAT(found.restored.jobs, SizeIs(2));
  EXPECT_EQ(fields(found.restored.jobs[0]), fields(full));
  EXPECT_EQ(fields(found.restored.jobs[1]), fields(ended));
  EXPECT_EQ(found.restored.last_job, 8U);
  Store store = open();
  EXPECT_EQ(fields(store.job({7}).value()), fields(full));
  EXPECT_FALSE(store.job({9}).has_value());
}

TEST_F(RoundTrip, EveryStateOfAJob) {
  Batch all;
  const std::vector states{JobState::queued,    JobState::assigned,  JobState::loaded,
                           JobState::delivered, JobState::cancelled, JobState::stranded};
  for (std::size_t ix = 0; ix < states.size(); ++ix) {
    control::Job job = queued_job(ix + 1);
    job.state = states[ix];
    all.records.emplace_back(control::JobRecord{job});
  }
  write_once(0, all);
  std::vector<JobState> found;
  for (const auto& job : reopened().restored.jobs) found.push_back(job.state);
  EXPECT_EQ(found, states);
}

TEST_F(RoundTrip, JobsEndedMoreThanADayAgoStayInTheStoreButAreNotLoaded) {
  constexpr std::int64_t day = 24 * 60 * 60 * 1000;
  control::Job old = queued_job(1, 0);
  old.state = JobState::delivered;
  old.changed = at(1000);
  old.ended_at = at(1000);
  const control::Job open_job = queued_job(2, 0);
  write_once(1000, batch({control::JobRecord{old}, control::JobRecord{open_job}}));
  EXPECT_THAT(reopened(1000 + day).restored.jobs, SizeIs(2));
  EXPECT_THAT(reopened(1001 + day).restored.jobs, SizeIs(1));
  EXPECT_EQ(reopened(1001 + day).restored.last_job, 2U);
  EXPECT_EQ(fields(open().job({1}).value()), fields(old));
}

TEST_F(RoundTrip, PathsCartsAndTheFleet) {
  const auto path = path_to(works.ways, "K", 41);
  write_once(
      0, batch({control::PathRecord{CartIx{1}, 6, control::JobId{7}, path},
                control::PathRecord{CartIx{0}, 2, std::nullopt, {path[0]}},
                control::CartRecord{CartIx{2}, true, true, "pushed away", {point("B"), point("D")}},
                control::FleetRecord{true}}));
  const Found found = reopened();
  ASSERT_THAT(found.restored.paths, SizeIs(2));
  EXPECT_EQ(found.restored.paths[0].cart, CartIx{0});
  EXPECT_EQ(found.restored.paths[0].job, std::nullopt);
  EXPECT_EQ(found.restored.paths[1].cart, CartIx{1});
  EXPECT_EQ(found.restored.paths[1].trip, 6U);
  EXPECT_EQ(found.restored.paths[1].job, control::JobId{7});
  EXPECT_EQ(fields(found.restored.paths[1].path), fields(path));
  ASSERT_THAT(found.restored.carts, SizeIs(1));
  EXPECT_EQ(found.restored.carts[0].cart, CartIx{2});
  EXPECT_TRUE(found.restored.carts[0].needs_release);
  EXPECT_TRUE(found.restored.carts[0].loaded);
  EXPECT_EQ(found.restored.carts[0].doubt, "pushed away");
  EXPECT_THAT(found.restored.carts[0].maybe_at, ElementsAre(point("B"), point("D")));
  EXPECT_TRUE(found.restored.fleet.all_stopped);
}

TEST_F(RoundTrip, ALaterRecordReplacesTheOneBefore) {
  const auto path = path_to(works.ways, "K", 41);
  control::Job job = queued_job(1);
  write_once(0, batch({control::JobRecord{job}, control::PathRecord{CartIx{1}, 6, {}, path},
                       control::CartRecord{CartIx{1}, true, false, "lost", {point("B")}},
                       control::FleetRecord{true}}));
  job.state = JobState::assigned;
  job.cart = CartIx{0};
  write_once(1, batch({control::JobRecord{job}, control::PathRecord{CartIx{1}, 7, {}, {}},
                       control::CartRecord{CartIx{1}, false, false, "", {}},
                       control::FleetRecord{false}}));
  const Found found = reopened();
  ASSERT_THAT(found.restored.jobs, SizeIs(1));
  EXPECT_EQ(fields(found.restored.jobs[0]), fields(job));
  EXPECT_THAT(found.restored.paths, IsEmpty());
  ASSERT_THAT(found.restored.carts, SizeIs(1));
  EXPECT_EQ(found.restored.carts[0].doubt, "");
  EXPECT_THAT(found.restored.carts[0].maybe_at, IsEmpty());
  EXPECT_FALSE(found.restored.fleet.all_stopped);
}

TEST_F(RoundTrip, StopsAreKeptByNameAndTheirNumberMoves) {
  control::Job job = queued_job(1);
  job.via = {{StationIx{2}, control::Handling::unload}, {StationIx{1}, control::Handling::load}};
  write_once(0, batch({control::JobRecord{job}}));
  EXPECT_THAT(query(folder.database(), "SELECT via, stops_done, due IS NULL FROM jobs"),
              ElementsAre("GLAZE:unload KILN:load|0|1"));
  job.stops_done = 4;
  job.due = at(9);
  write_once(1, batch({control::JobRecord{job}}));
  EXPECT_THAT(query(folder.database(), "SELECT via, stops_done, due FROM jobs"),
              ElementsAre("GLAZE:unload KILN:load|4|1800000000009"));
}

TEST_F(RoundTrip, LoadsAtStations) {
  write_once(0, batch({control::StationRecord{StationIx{2}, 3}}));
  EXPECT_THAT(loads_in(reopened(), works.floor), ElementsAre("GLAZE:3"));
  write_once(1, batch({control::StationRecord{StationIx{2}, 2}}));
  write_once(1, batch({control::StationRecord{StationIx{2}, 0}}));
  EXPECT_THAT(loads_in(reopened(), works.floor), ElementsAre("GLAZE:0"));
}

TEST_F(RoundTrip, WhatIsOutOfServiceAndStoppedZones) {
  using control::Downtime;
  works.floor.zones.push_back({"KILNS", "Kiln room", {SegmentIx{4}}});
  const Downtime segment{SegmentIx{1}, "new tape", at(5), at(90)};
  const Downtime station{StationIx{2}, "", at(6), {}};
  const Downtime cart{CartIx{1}, "inspection", at(7), {}};
  write_once(
      0, batch({control::DowntimeRecord{segment.what, segment},
                control::DowntimeRecord{station.what, station},
                control::DowntimeRecord{cart.what, cart}, control::ZoneRecord{ZoneIx{0}, true}}));
  const Found found = reopened();
  EXPECT_THAT(found.restored.downtimes, testing::UnorderedElementsAre(segment, station, cart));
  EXPECT_THAT(found.restored.stopped_zones, ElementsAre(ZoneIx{0}));
  EXPECT_FALSE(found.restored.fleet.all_stopped);

  const Downtime later{SegmentIx{1}, "still", at(50), {}};
  write_once(
      1, batch({control::DowntimeRecord{segment.what, later},
                control::DowntimeRecord{station.what, {}}, control::DowntimeRecord{cart.what, {}},
                control::ZoneRecord{ZoneIx{0}, false}}));
  EXPECT_THAT(reopened().restored.downtimes, ElementsAre(later));
  EXPECT_THAT(reopened().restored.stopped_zones, testing::IsEmpty());
}

TEST_F(RoundTrip, AStoppedZoneThatIsGoneStopsEverything) {
  works.floor.zones.push_back({"KILNS", "Kiln room", {SegmentIx{4}}});
  write_once(0, batch({control::ZoneRecord{ZoneIx{0}, true}}));
  works.floor.zones.clear();
  const Found found = reopened();
  EXPECT_TRUE(found.restored.fleet.all_stopped);
  ASSERT_THAT(found.notes, SizeIs(1));
  EXPECT_THAT(found.notes[0], testing::HasSubstr("Zone KILNS"));
}

TEST_F(RoundTrip, AReadCutsThePathBehindIt) {
  const auto path = path_to(works.ways, "K", 41);  // 41 A, 42 B, 43 K
  write_once(0, batch({control::PathRecord{CartIx{1}, 6, {}, path}}, {read_at(5, 42, "B")}));
  EXPECT_THAT(steps_found(), ElementsAre(42, 43));
  write_once(0, batch({}, {read_at(6, 43, "K")}));
  EXPECT_THAT(steps_found(), ElementsAre(43));
  write_once(0, batch({}, {read_at(7, 42, "B")}));  // told late: never moves back
  EXPECT_THAT(steps_found(), ElementsAre(43));
}

TEST_F(RoundTrip, AReadThatIsNotOnThePathCutsNothing) {
  const auto path = path_to(works.ways, "K", 41);
  write_once(0, batch({control::PathRecord{CartIx{1}, 6, {}, path}},
                      {read_at(1, 44, "B"),
                       read_at(2, 40, "D"),
                       read_at(3, 0, "B"),
                       read_at(4, 42, "C"),
                       read_at(5, 4, "B"),
                       {at(6), control::ReadTrace{CartIx{0}, point("B"), 42, {}}}}));
  EXPECT_THAT(steps_found(), ElementsAre(41, 42, 43));
  // ... nor does it hide a good one that comes later.
  write_once(0, batch({}, {read_at(7, 42, "B")}));
  EXPECT_THAT(steps_found(), ElementsAre(42, 43));
}

TEST_F(RoundTrip, APathWrittenAfterAReadIsTakenAsItIs) {
  const auto path = path_to(works.ways, "K", 41);
  write_once(0, batch({control::PathRecord{CartIx{1}, 6, {}, path}}, {read_at(1, 43, "K")}));
  write_once(0, batch({control::PathRecord{CartIx{1}, 7, {}, path}}));
  EXPECT_THAT(steps_found(), ElementsAre(41, 42, 43));
}

TEST_F(RoundTrip, TracesAreCounted) {
  const TimedTrace tag{at(3), control::UnknownTagTrace{CartIx{0}, "E004010203040506"}};
  const TimedTrace again{at(9), control::UnknownTagTrace{CartIx{2}, "E004010203040506"}};
  write_once(3, batch({}, {read_at(1, 42, "B", {point("A"), point("D")}), tag}));
  write_once(9, batch({}, {read_at(8, 50, "C", {point("A")}), again}));
  EXPECT_THAT(query(folder.database(), "SELECT at, cart, point, step FROM reads ORDER BY seq"),
              ElementsAre("1800000000001|cart-2|B|42", "1800000000008|cart-2|C|50"));
  EXPECT_THAT(query(folder.database(), "SELECT point, count, last_at, last_cart FROM missed_tags"),
              ElementsAre("A|2|1800000000008|cart-2", "D|1|1800000000001|cart-2"));
  EXPECT_THAT(query(folder.database(), "SELECT * FROM unknown_tags"),
              ElementsAre("E004010203040506|2|1800000000003|1800000000009|cart-3"));
}

TEST_F(RoundTrip, TheHistoryOfAJobHasEachChangeOnce) {
  control::Job job = queued_job(1, 0);
  write_once(0, batch({control::JobRecord{job}}));
  job.note = "no change of state";
  write_once(5, batch({control::JobRecord{job}}));
  job.state = JobState::assigned;
  job.cart = CartIx{0};
  job.changed = at(8);
  write_once(9, batch({control::JobRecord{job}}));
  job.cart = CartIx{1};  // re-decided: same state, another cart
  write_once(12, batch({control::JobRecord{job}}));
  job.state = JobState::cancelled;
  job.cart.reset();
  job.changed = at(15);
  job.reason = "asked by a person";
  write_once(15, batch({control::JobRecord{job}}));
  EXPECT_THAT(query(folder.database(),
                    "SELECT at - 1800000000000, job, state, cart, reason FROM job_events "
                    "ORDER BY seq"),
              ElementsAre("0|1|queued||", "8|1|assigned|cart-1|", "12|1|assigned|cart-2|",
                          "15|1|cancelled||asked by a person"));
}

TEST_F(RoundTrip, TheLatestMomentNeverGoesBack) {
  write_once(500, batch({control::FleetRecord{false}}));
  write_once(100, batch({control::FleetRecord{false}}));
  EXPECT_EQ(reopened().latest, at(500));
  write_once(600, batch({}, {read_at(900, 1, "B")}));
  EXPECT_EQ(reopened().latest, at(900));
}

}  // namespace
}  // namespace tagline::store::test
