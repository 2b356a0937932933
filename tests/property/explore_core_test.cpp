// Everything that can happen to the whole core on small floors, its own planner and dispatcher
// included: see core_explorer.hpp. And that the same explorer finds faults planted in the tables,
// in the carts or on the wire between them and the core.
//
// TAGLINE_EXPLORE=full in the environment explores more, up to 600,000 states per case; it takes
// some 20 minutes and some GB. Without, cases too large for every day are explored up to a bound,
// and say so.
#include <gtest/gtest.h>

#include <chrono>
#include <cstdio>

#include "tests/property/core_explorer.hpp"
#include "tests/property/explored_floors.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline {
namespace {

using test::CoreExplorer;
using test::CoreFindings;
using test::explored_floors;
using test::explores_fully;
using test::Sabotage;
using test::WorldPlan;

constexpr std::size_t most_states = 600'000;
/// From every so-manieth state a fair continuation is run.
constexpr std::size_t continue_every = 50;

CoreFindings explore(const floor::Floor& floor, const WorldPlan& plan, std::size_t most,
                     const floor::Floor* believed = nullptr) {
  const floor::Ways ways(floor);
  const floor::Track truth(ways);
  const floor::Floor& told = believed != nullptr ? *believed : floor;
  const floor::Ways told_ways(told);
  const floor::Track track(told_ways);
  const auto begin = std::chrono::steady_clock::now();
  const CoreFindings found = CoreExplorer(track, truth, plan, most, continue_every).run();
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  std::printf("  %-32s %zu carts, %zu jobs (%zu at once), %zu disturbances%s: %7zu states %s, ",
              floor.name.c_str(), plan.carts, plan.jobs.size(),
              std::min(plan.asked, plan.jobs.size()), plan.disturbances,
              plan.restarts ? " and restarts" : "", found.states,
              found.exhausted ? "(all)" : "(bound)");
  std::printf("%8zu transitions, %zu ends, contacts %zu, overlaps %zu, unheld %zu, broken %zu, ",
              found.transitions, found.ends, found.contacts, found.overlaps, found.unheld,
              found.broken);
  std::printf("unruly %zu, stuck %zu, circles %zu, unfinished %zu of %zu, %.2f s\n", found.unruly,
              found.stuck, found.circles, found.unfinished, found.continued, took.count());
  std::fflush(stdout);
  return found;
}

/// How many states are looked at where not all are.
std::size_t bound(std::size_t usual) {
  return explores_fully() ? most_states : test::lighter(usual);
}

/// Jobs round the stations, so that carts come in each other's way.
WorldPlan plan(const floor::Floor& floor, std::size_t carts, std::size_t jobs,
               std::size_t disturbances = 0) {
  WorldPlan plan;
  plan.carts = carts;
  plan.disturbances = disturbances;
  const std::size_t n = floor.stations.size();
  for (std::size_t j = 0; j < jobs; ++j) {
    plan.jobs.emplace_back(floor.stations[j % n].id, floor.stations[(j + 1 + j / n) % n].id);
  }
  return plan;
}

void expect_sound(const CoreFindings& found) {
  EXPECT_EQ(found.wrong(), 0u) << found.first;
  EXPECT_TRUE(!found.exhausted || found.ends > 0);
  EXPECT_GT(found.continued, 0u);
}

TEST(ExploreCore, TwoCartsInEveryOrder) {
  for (const auto& floor : explored_floors())
    expect_sound(explore(floor, plan(floor, 2, 2), test::lighter(std::size_t{100'000})));
}

TEST(ExploreCore, ThreeCartsInEveryOrder) {
  for (const auto& floor : explored_floors()) {
    expect_sound(explore(floor, plan(floor, 3, 3), bound(10'000)));
  }
}

TEST(ExploreCore, FourCartsInEveryOrder) {
  for (const auto& floor : explored_floors()) {
    const floor::Ways ways(floor);
    const floor::Track track(ways);
    const traffic::LiveLimit limit = traffic::live_limit(track);
    if ((limit.rests.empty() ? limit.carts : limit.rests.size()) < 4) continue;
    expect_sound(explore(floor, plan(floor, 4, 3), bound(3'000)));
  }
}

TEST(ExploreCore, JobsAskedAtAnyTime) {
  for (const auto& floor : explored_floors()) {
    WorldPlan p = plan(floor, 2, explores_fully() ? 4 : 3);
    p.asked = 1;
    expect_sound(explore(floor, p, bound(5'000)));
  }
}

TEST(ExploreCore, StallsStopsAndLostLinks) {
  for (const auto& floor : explored_floors()) {
    expect_sound(explore(floor, plan(floor, 2, 2, 1), bound(13'000)));
  }
}

TEST(ExploreCore, ThreeCartsWithStallsStopsAndLostLinks) {
  for (const auto& floor : explored_floors()) {
    expect_sound(explore(floor, plan(floor, 3, 3, 1), bound(2'500)));
  }
}

TEST(ExploreCore, TwoDisturbancesAtOnce) {
  for (const auto& floor : explored_floors()) {
    expect_sound(explore(floor, plan(floor, 2, 1, 2), bound(4'000)));
  }
}

TEST(ExploreCore, Restarts) {
  for (const auto& floor : explored_floors()) {
    WorldPlan p = plan(floor, 2, 2);
    p.restarts = true;
    expect_sound(explore(floor, p, bound(5'000)));
  }
}

TEST(ExploreCore, FindsAConflictLeftOut) {
  const floor::Floor floor = test::figure_of_eight();
  const floor::Floor ring = test::figure_of_eight_without_crossing();
  const WorldPlan p = plan(floor, 3, 3);
  EXPECT_GT(explore(floor, p, 3'000, &ring).contacts, 0u);
}

TEST(ExploreCore, FindsTrackReleasedByTime) {
  std::size_t contacts = 0;
  for (const auto& floor : explored_floors()) {
    WorldPlan p = plan(floor, 3, 3);
    p.sabotage = Sabotage::read_early;
    const CoreFindings found = explore(floor, p, 3'000);
    EXPECT_GT(found.contacts + found.unheld, 0u) << floor.name;
    contacts += found.contacts;
  }
  EXPECT_GT(contacts, 0u);
}

TEST(ExploreCore, FindsThatAStopAtTheCartIsIgnored) {
  for (const auto& floor : {test::loop_with_bay(), test::corridor(), test::plain_loop()}) {
    WorldPlan p = plan(floor, 2, 2, 1);
    p.sabotage = Sabotage::stop_unheard;
    EXPECT_GT(explore(floor, p, 3'000).unruly, 0u) << floor.name;
  }
}

TEST(ExploreCore, FindsThatAGreetingForgetsItsAuthority) {
  for (const auto& floor : explored_floors()) {
    WorldPlan p = plan(floor, 2, 2);
    p.restarts = true;
    p.sabotage = Sabotage::forgets_authority;
    const CoreFindings found = explore(floor, p, 3'000);
    EXPECT_GT(found.contacts + found.overlaps + found.unheld, 0u) << floor.name;
  }
}

}  // namespace
}  // namespace tagline
