// Whole runs: the same for the same seed, sound whatever goes wrong, and able to see a contact, a
// lie in the books and a trace.
#include "server/sim/fleet_run.hpp"

#include <gtest/gtest.h>

#include <map>

#include "server/floor/file.hpp"
#include "server/sim/confidence.hpp"
#include "server/sim/fleet_trace.hpp"
#include "server/sim/start_places.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::sim {
namespace {

struct Site {
  explicit Site(floor::Floor its_floor) : floor(std::move(its_floor)), ways(floor), track(ways) {}
  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
};

FleetRunOptions rough(std::size_t carts, double hours, std::uint64_t seed) {
  FleetRunOptions o;
  o.carts = carts;
  o.hours = hours;
  o.seed = seed;
  o.jobs = FleetRunOptions::Jobs::saturate;
  o.speed_noise = 0.1;
  o.miss_rate = 0.25;
  o.stalls_per_hour = 4;
  o.drops_per_hour = 4;
  return o;
}

void expect_sound(const FleetRunResult& r, const std::string& name) {
  EXPECT_EQ(r.broken, "") << name;
  EXPECT_EQ(r.body_contacts, 0u) << name;
  EXPECT_EQ(r.held_conflicts, 0u) << name;
  EXPECT_EQ(r.gridlocks, 0u) << name;
  EXPECT_EQ(r.stuck_carts, 0u) << name;
}

TEST(FleetRun, SmallFloorsAreSoundWhateverGoesWrong) {
  std::uint64_t helped = 0;
  for (const floor::Floor& floor : test::small_floors()) {
    const Site site(floor);
    const FleetRunResult r = run_fleet(site.track, rough(3, test::lighter(6.0), 11));
    expect_sound(r, floor.name);
    EXPECT_GT(r.deliveries, test::lighter(40u)) << floor.name;
    const auto& s = r.share;
    EXPECT_NEAR(s.loaded + s.empty + s.waiting + s.handling + s.charging + s.resting, 1, 1e-9);
    EXPECT_EQ(r.jobs_created, r.deliveries + r.jobs_open + r.jobs_stranded) << floor.name;
    helped += r.helped;
  }
  EXPECT_GT(helped, 0u);  // something did go wrong
}

TEST(FleetRun, TrackStationsAndCartsComeAndGoOutOfServiceAndNobodyEntersClosedTrack) {
  std::map<std::size_t, int> taken_down;  // by kind: segments, stations, carts
  int brought_up = 0;
  for (const floor::Floor& floor : test::small_floors()) {
    const Site site(floor);
    FleetRunOptions options = rough(3, 2, 17);
    options.miss_rate = 0.02;
    options.closings_per_hour = 10;
    const FleetRunResult r =
        run_fleet(site.track, options, {}, [&](Instant, const control::Event& event) {
          if (const auto* down = std::get_if<control::AskTakeDown>(&event)) {
            ++taken_down[down->what.index()];
          }
          if (std::holds_alternative<control::AskBringUp>(event)) ++brought_up;
        });
    expect_sound(r, floor.name);
    EXPECT_GT(r.deliveries, 10u) << floor.name;
  }
  EXPECT_GT(taken_down[0], 25);
  EXPECT_GT(taken_down[1], 8);
  EXPECT_GT(taken_down[2], 8);
  EXPECT_GT(brought_up, 50);
}

TEST(FleetRun, TheSameSeedGivesTheSameRun) {
  const Site site(test::ladder());
  const auto once = [&](std::uint64_t seed) {
    std::string events;
    const FleetRunResult r = run_fleet(
        site.track, rough(4, 2, seed), {},
        [&](Instant now, const control::Event& event) { events += trace_line(now, event) + "\n"; });
    return events + std::to_string(r.distance_m);
  };
  const std::string first = once(5);
  EXPECT_EQ(first, once(5));
  EXPECT_NE(first, once(6));
}

// The floor grows carts wider than the tables were made for: a mistake in the geometry, planted.
TEST(FleetRun, TheRefereeFindsBodiesWiderThanTheTablesKnow) {
  Site site(test::loop_with_bay());
  site.floor.cart.width = Mm{1300};
  const FleetRunResult r = run_fleet(site.track, rough(4, 2, 3));
  EXPECT_GE(r.body_contacts, 1u);
  EXPECT_NE(r.broken.find("touched"), std::string::npos) << r.broken;
}

// And longer: a tail that lies on track nobody holds any more.
TEST(FleetRun, TheAuditFindsBodiesOnTrackThatIsNotHeld) {
  Site site(test::loop_with_bay());
  site.floor.cart.length = Mm{4000};
  site.floor.cart.width = Mm{10};
  FleetRunOptions options = rough(1, 2, 3);
  const FleetRunResult r = run_fleet(site.track, options);
  EXPECT_GE(r.held_conflicts, 1u);
  EXPECT_NE(r.broken.find("does not hold"), std::string::npos) << r.broken;
}

TEST(FleetRun, ATraceFeedsTheCoreTheSameEvents) {
  const Site site(test::spur());
  const FleetRunOptions options = rough(3, 1, 9);
  std::vector<std::string> lines{trace_header(options, floor::format_floor(site.floor))};
  const FleetRunResult r = run_fleet(
      site.track, options, {},
      [&](Instant now, const control::Event& event) { lines.push_back(trace_line(now, event)); });
  EXPECT_EQ(lines.size(), r.events + 1);
  const TraceHeader header = read_trace_header(lines.front());
  EXPECT_EQ(header.options.carts, 3u);
  EXPECT_EQ(header.options.seed, 9u);
  const Site again(std::get<floor::Floor>(floor::parse_floor(header.floor_document)));
  control::Core core(again.track, run_cart_names(3), {}, {}, run_begins);
  std::uint64_t delivered = 0;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const TraceLine line = read_trace_line(lines[i]);
    ASSERT_EQ(trace_line(line.now, *line.event), lines[i]);
    const control::Outcome outcome = core.handle(line.now, *line.event);
    for (const auto& record : outcome.records) {
      const auto* job = std::get_if<control::JobRecord>(&record);
      if (job != nullptr && job->job.state == control::JobState::delivered) ++delivered;
    }
  }
  EXPECT_EQ(delivered, r.deliveries);
  EXPECT_EQ(read_trace_line(trace_end(1.5, "it broke")).broken, "it broke");
  EXPECT_THROW(read_trace_line("{\"t\":1,\"event\":\"sings\"}"), BadTrace);
  EXPECT_THROW(read_trace_header("{}"), BadTrace);
}

// A station that is full holds jobs back until somebody takes a load away; somebody does.
TEST(FleetRun, LoadsAreTakenAwayFromStationsWithACapacity) {
  floor::Floor floor = test::loop_with_bay();
  for (auto& station : floor.stations) station.capacity = 1;
  floor.demand = {{{0}, {1}, 10}};
  const Site site(floor);
  FleetRunOptions options;
  options.carts = 2;
  options.hours = 4;
  options.jobs = FleetRunOptions::Jobs::saturate;
  std::vector<std::string> lines;
  const FleetRunResult r =
      run_fleet(site.track, options, {}, [&](Instant now, const control::Event& event) {
        lines.push_back(trace_line(now, event));
        EXPECT_EQ(
            trace_line(read_trace_line(lines.back()).now, *read_trace_line(lines.back()).event),
            lines.back());
      });
  expect_sound(r, "capacity 1");
  // If nobody took loads away there would be one delivery and no more.
  EXPECT_GT(r.deliveries, 60u);
}

TEST(FleetRun, MoreCartsThanPlacesAreRefused) {
  const Site site(test::loop_with_bay());
  FleetRunOptions options;
  options.carts = 100;
  options.jobs = FleetRunOptions::Jobs::saturate;
  EXPECT_THROW(run_fleet(site.track, options), TooManyCarts);
}

TEST(StartPlaces, SidingsFirstThenSpreadAndEachOnlyOnce) {
  const Site site(test::figure_of_eight());
  const auto places = start_places(site.track);
  for (std::size_t i = 0; i < 3; ++i) EXPECT_TRUE(site.floor[site.ways[places[i]].at].siding);
  std::map<PoseIx, int> seen;
  for (const PoseIx pose : places) EXPECT_EQ(++seen[pose], 1);
}

TEST(JobSource, TheDeckKeepsTheProportions) {
  const std::vector<JobFlow> flows{{{0}, {1}, 6}, {{1}, {2}, 2.5}, {{2}, {0}, 0.7}};
  JobSource source(flows, Random{4});
  std::map<std::uint32_t, double> dealt;
  for (int i = 1; i <= 5000; ++i) {
    ++dealt[source.deal().from.value];
    // Never a deck off, from the first card on.
    for (const JobFlow& flow : flows) {
      ASSERT_NEAR(dealt[flow.from.value], i * flow.weight / 9.2, 24) << i;
    }
  }
  EXPECT_NEAR(dealt[2], 5000 * 0.7 / 9.2, 2);
}

TEST(JobSource, GapsAreExponential) {
  JobSource source({{{0}, {1}, 1}}, Random{4});
  double sum = 0;
  double squares = 0;
  const int n = 100'000;
  for (int i = 0; i < n; ++i) {
    const double gap = source.gap(60);
    sum += gap;
    squares += gap * gap;
  }
  EXPECT_NEAR(sum / n, 60, 0.6);  // 3 standard errors
  EXPECT_NEAR(squares / n, 2 * 60 * 60, 120);
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, upper critical values, 0.975 (from
// memory).
TEST(Confidence, StudentsT) {
  EXPECT_NEAR(student_t_95(1), 12.706, 5e-4);
  EXPECT_NEAR(student_t_95(4), 2.776, 5e-4);
  EXPECT_NEAR(student_t_95(9), 2.262, 5e-4);
  EXPECT_NEAR(student_t_95(30), 2.042, 5e-4);
  // By hand: mean 3, standard deviation sqrt(2.5), 2.776 x sqrt(2.5 / 5).
  const double values[] = {1, 2, 3, 4, 5};
  EXPECT_NEAR(estimate(values).mean, 3, 1e-12);
  EXPECT_NEAR(estimate(values).half_width, 1.963, 1e-3);
}

}  // namespace
}  // namespace tagline::sim
