// Traffic and dispatch measured against their limits, as ratios in one run (issue 3):
//   saturation   deliveries an hour at saturation against the bound that no dispatcher can beat
//                (dispatch/throughput.hpp) and against a baseline that lets one cart at a time onto
//                the loops, over floors and cart counts
//   speed        simulated time against wall time, and the core's cost per event over fleet sizes
//   decision     from a tag read to its effects, 100 carts on over 2,000 points
//   matching     500 jobs to 100 carts
// Names of parts may be given as arguments; all run otherwise. Build it as Release.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstring>
#include <numeric>
#include <stdexcept>
#include <vector>

#include "server/dispatch/assignment.hpp"
#include "server/dispatch/throughput.hpp"
#include "server/floor/file.hpp"
#include "server/sim/fleet_run.hpp"
#include "tests/support/small_floors.hpp"
#include "tests/support/street_grid.hpp"

namespace tagline {
namespace {

using Clock = std::chrono::steady_clock;
using Jobs = sim::FleetRunOptions::Jobs;

double seconds_since(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

floor::Floor demo_floor() {
  auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  if (auto* floor = std::get_if<floor::Floor>(&loaded)) return std::move(*floor);
  throw std::runtime_error("the demo floor doesn't load");
}

/// All tape but what leads to and from sidings is one piece of exclusive track: one cart at a time
/// is let onto the loops.
floor::Floor one_at_a_time(floor::Floor floor) {
  std::vector<SegmentIx> loop;
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const auto& segment = floor.segments[s];
    const auto siding = [&](PointIx point) { return floor[point].siding; };
    // The tape into a siding, and the one before it, is where a resting cart's tail may lie.
    bool near = siding(segment.from) || siding(segment.to);
    for (const auto& next : floor.segments) {
      near = near || (next.from == segment.to && siding(next.to));
    }
    if (!near) loop.push_back({s});
  }
  for (std::size_t a = 0; a < loop.size(); ++a) {
    for (std::size_t b = 0; b < a; ++b) floor.conflicts.emplace_back(loop[a], loop[b]);
  }
  return floor;
}

sim::FleetRunResult run(const floor::Track& track, std::size_t carts, double hours,
                        std::uint64_t seed) {
  sim::FleetRunOptions options;
  options.carts = carts;
  options.hours = hours;
  options.seed = seed;
  options.jobs = Jobs::saturate;
  sim::FleetRunResult result = sim::run_fleet(track, options);
  if (!result.broken.empty()) throw std::runtime_error(result.broken);
  return result;
}

double mean_per_hour(const floor::Track& track, std::size_t carts, int runs) {
  double sum = 0;
  for (int seed = 1; seed <= runs; ++seed) {
    sum += run(track, carts, 5, static_cast<std::uint64_t>(seed)).deliveries_per_hour;
  }
  return sum / runs;
}

void saturation() {
  constexpr int runs = 4;
  std::printf("\nDeliveries an hour at saturation, %d runs of 5 h from full batteries\n", runs);
  std::printf("%-32s carts  per h  bound  of it  one at a time  times that\n", "floor");
  std::vector<floor::Floor> floors = test::small_floors();
  floors.insert(floors.begin(), demo_floor());
  floors.push_back(test::plain_loop());
  for (const floor::Floor& floor : floors) {
    const floor::Ways ways(floor);
    const floor::Track track(ways);
    const floor::Floor alone = one_at_a_time(floor);
    const floor::Ways alone_ways(alone);
    const floor::Track alone_track(alone_ways);
    const std::size_t most = traffic::live_limit(track).rests.empty()
                                 ? std::min<std::size_t>(6, traffic::live_limit(track).carts)
                                 : traffic::live_limit(track).rests.size();
    for (std::size_t carts = 1; carts <= most; ++carts) {
      const double bound =
          dispatch::throughput_bound(track, dispatch::flows_of(floor), carts).per_hour;
      const double per_hour = mean_per_hour(track, carts, runs);
      double baseline = 0;
      try {
        baseline = mean_per_hour(alone_track, carts, 1);
      } catch (const sim::TooManyCarts&) {
        baseline = mean_per_hour(track, 1, 1);  // without sidings nobody else may be on the loop
      }
      std::printf("%-32s %5zu  %5.1f  %5.1f  %4.0f%%  %13.1f  %10.2f\n", floor.name.c_str(), carts,
                  per_hour, bound, 100 * per_hour / bound, baseline, per_hour / baseline);
    }
  }
}

/// One-way streets with at least a quarter more sidings than carts.
floor::Floor streets_for(std::size_t carts) {
  int side = 4;
  while (static_cast<std::size_t>(side * (side - 1) * 2 / 3) < carts * 5 / 4) side += 2;
  return test::street_grid(side);
}

double quantile(const std::vector<double>& sorted, double q) {
  return sorted[static_cast<std::size_t>(q * static_cast<double>(sorted.size() - 1))];
}

/// A run, and then its events given to a core of its own, each timed: ms for all but the placing of
/// the carts, which comes once, and for the tag reads among them.
struct Timed {
  sim::FleetRunResult result;
  double wall_s{};
  std::vector<double> all_ms, reads_ms;
};
Timed timed_run(const floor::Track& track, std::size_t carts, double hours,
                Jobs jobs = Jobs::per_hour) {
  Timed timed;
  sim::FleetRunOptions options;
  options.carts = carts;
  options.hours = hours;
  options.jobs = jobs;
  options.jobs_per_hour = 8.0 * static_cast<double>(carts);
  std::vector<std::pair<Instant, control::Event>> events;
  const auto begin = Clock::now();
  timed.result = sim::run_fleet(track, options, {}, [&](Instant now, const control::Event& event) {
    events.emplace_back(now, event);
  });
  timed.wall_s = seconds_since(begin);
  if (!timed.result.broken.empty()) throw std::runtime_error(timed.result.broken);
  control::Core core(track, sim::run_cart_names(carts), {}, {}, sim::run_begins);
  for (const auto& [now, event] : events) {
    const auto start = Clock::now();
    core.handle(now, event);
    const double ms = seconds_since(start) * 1e3;
    if (std::holds_alternative<control::AskPlaceCart>(event)) continue;
    timed.all_ms.push_back(ms);
    if (std::holds_alternative<control::CartReads>(event)) timed.reads_ms.push_back(ms);
  }
  return timed;
}

void speed() {
  std::printf("\nSimulation speed and cost of an event, 8 jobs an hour for each cart\n");
  std::printf(
      "carts  points  deliveries/h  times real time   events  us per event  per tag read\n");
  for (const std::size_t carts : {5U, 10U, 20U, 50U, 100U, 200U}) {
    const floor::Floor floor = streets_for(carts);
    const floor::Ways ways(floor);
    const floor::Track track(ways);
    const Timed timed = timed_run(track, carts, carts <= 20 ? 10 : 1);
    const auto mean = [](const std::vector<double>& ms) {
      return 1e3 * std::accumulate(ms.begin(), ms.end(), 0.0) / static_cast<double>(ms.size());
    };
    std::printf("%5zu  %6zu  %12.1f  %15.0f  %7zu  %12.1f  %12.1f\n", carts, floor.points.size(),
                timed.result.deliveries_per_hour, timed.result.simulated_s / timed.wall_s,
                timed.all_ms.size(), mean(timed.all_ms), mean(timed.reads_ms));
  }
}

void speed_of_ten() {
  constexpr std::size_t carts = 10;
  const floor::Floor floor = streets_for(carts);
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  const Timed timed = timed_run(track, carts, 10, Jobs::saturate);
  std::printf("The same with %zu carts and a queue that is never empty: %.0f times real time\n",
              carts, timed.result.simulated_s / timed.wall_s);
}

void decision() {
  constexpr std::size_t carts = 100;
  const floor::Floor floor = test::street_grid(20);
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  Timed timed = timed_run(track, carts, 1);
  std::ranges::sort(timed.reads_ms);
  std::ranges::sort(timed.all_ms);
  std::printf(
      "\nDecision, %zu carts on %zu points: tag read to effects p50 %.4f ms, p99 %.4f ms "
      "(limit 1), worst %.3f ms; any event p99 %.3f ms, worst %.2f ms\n",
      carts, floor.points.size(), quantile(timed.reads_ms, 0.5), quantile(timed.reads_ms, 0.99),
      timed.reads_ms.back(), quantile(timed.all_ms, 0.99), timed.all_ms.back());
}

void matching() {
  sim::Random random(1);
  dispatch::CostTable table(100, 500);
  for (std::int64_t& cost : table.costs) cost = static_cast<std::int64_t>(random.next() % 600'000);
  const auto start = Clock::now();
  const auto matched = dispatch::least_cost_matching(table);
  std::printf("\nMatching 500 jobs to 100 carts: %.2f ms (limit 50), %zu matched\n",
              seconds_since(start) * 1e3,
              static_cast<std::size_t>(std::ranges::count_if(
                  matched, [](const auto& column) { return column.has_value(); })));
}

}  // namespace
}  // namespace tagline

int main(int argc, char** argv) {
  std::setvbuf(stdout, nullptr, _IOLBF, 0);  // each line when it is known
  const auto wanted = [&](const char* part) {
    return argc < 2 || std::any_of(argv + 1, argv + argc,
                                   [&](const char* name) { return std::strcmp(name, part) == 0; });
  };
  if (wanted("matching")) tagline::matching();
  if (wanted("speed")) {
    tagline::speed();
    tagline::speed_of_ten();
  }
  if (wanted("decision")) tagline::decision();
  if (wanted("saturation")) tagline::saturation();
  return 0;
}
