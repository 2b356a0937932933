// Every order in which reads, grants and changes of way can come on small floors, with the guard
// against an adversary that proposes anything: see guard_explorer.hpp. The same explorer must find
// faults planted on purpose: one that finds nothing with a rule left out looks at nothing.
//
// TAGLINE_EXPLORE=full in the environment explores more: two ways for each of three carts,
// authority of any length for up to three, three steps of it for four. It takes some ten minutes
// and some GB.
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <cstdio>

#include "server/traffic/capacity.hpp"
#include "tests/property/explored_floors.hpp"
#include "tests/property/guard_explorer.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline {
namespace {

using test::explored_floors;
using test::explores_fully;
using test::Findings;
using test::GuardExplorer;
using test::Limits;
using test::Planted;
using test::Scene;

void explore(const floor::Floor& floor, std::size_t carts, std::size_t ways_each, Limits limits) {
  const Scene scene(floor, carts, ways_each);
  const auto begin = std::chrono::steady_clock::now();
  const Findings found = GuardExplorer(scene, limits).run();
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  std::printf("  %-32s %zu carts, %zu ways, ahead %3zu: %8zu states, %9zu answers, %9zu refused,",
              floor.name.c_str(), carts, ways_each, limits.ahead, found.states, found.answers,
              found.refusals);
  std::printf(" wrong %zu, contacts %zu, overlaps %zu, planless %zu, locked in %zu, %.2f s\n",
              found.wrong, found.contacts, found.overlaps, found.planless, found.locked_in,
              took.count());
  std::fflush(stdout);
  EXPECT_GT(found.states, 40u);
  EXPECT_GT(found.refusals, 100u);
  EXPECT_LT(found.refusals, found.answers);
  EXPECT_EQ(found.wrong, 0u) << floor.name;
  EXPECT_EQ(found.contacts, 0u) << floor.name;
  EXPECT_EQ(found.overlaps, 0u) << floor.name;
  EXPECT_EQ(found.unheld, 0u) << floor.name;
  EXPECT_EQ(found.planless, 0u) << floor.name;
  EXPECT_EQ(found.locked_in, 0u) << floor.name;
}

/// How many can stand on it: each on a siding of its own, or, without sidings, to the live limit.
std::size_t places(const floor::Floor& floor) {
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  const traffic::LiveLimit limit = traffic::live_limit(track);
  return limit.rests.empty() ? limit.carts : limit.rests.size();
}

bool has_sidings(const floor::Floor& floor) {
  return std::ranges::any_of(floor.points, &floor::Point::siding);
}

TEST(ExploreGuard, AnswersTwoCartsExactlyAsTheTablesSay) {
  for (const floor::Floor& floor : explored_floors()) {
    explore(floor, 2, has_sidings(floor) ? 2 : 1,
            {.at_random = 2, .every = explores_fully() ? 1000u : 20u});
  }
}

TEST(ExploreGuard, AnswersThreeCartsExactlyAsTheTablesSay) {
  for (const floor::Floor& floor : explored_floors()) {
    explore(floor, 3, explores_fully() && has_sidings(floor) ? 2 : 1,
            {.ahead = explores_fully() ? 100u : 3u, .at_random = 1});
  }
}

// The figure of eight and the corridor have three sidings and bear no more carts than that.
TEST(ExploreGuard, AnswersFourCartsExactlyAsTheTablesSay) {
  for (const floor::Floor& floor : explored_floors()) {
    if (places(floor) < 4) continue;
    explore(floor, 4, 1,
            {.ahead = explores_fully() ? 3u : 1u, .at_random = explores_fully() ? 1u : 0u});
  }
}

// No more could be placed: see LiveLimit.
TEST(ExploreGuard, ALoopIsExploredFullToItsLimit) { EXPECT_EQ(places(test::tight_loop()), 4u); }

/// What is found with a fault planted, and that nothing is found without it.
Findings with(Planted planted, const floor::Floor& floor, std::size_t carts,
              const floor::Track* believed = nullptr) {
  const Scene scene(floor, carts, 1);
  const Findings sound = GuardExplorer(scene, {.ahead = 3}).run();
  EXPECT_EQ(sound.contacts + sound.overlaps + sound.planless + sound.locked_in, 0u);
  const Findings found = GuardExplorer(scene, {.ahead = 3}, planted, believed).run();
  std::printf(
      "  %-32s %zu carts: %zu states, contacts %zu, overlaps %zu, planless %zu, locked in %zu\n",
      floor.name.c_str(), carts, found.states, found.contacts, found.overlaps, found.planless,
      found.locked_in);
  return found;
}

TEST(ExploreGuard, FindsThatTheWayOutIsNotTested) {
  for (const auto& floor : {test::corridor(), test::passing_place()}) {
    EXPECT_GT(with(Planted::way_out_off, floor, 2).locked_in, 0u) << floor.name;
  }
  EXPECT_GT(with(Planted::way_out_off, test::spur(), 3).locked_in, 0u);
}

TEST(ExploreGuard, FindsThatTurnsAreIgnored) {
  for (const auto& floor : {test::corridor(), test::passing_place()}) {
    const Findings found = with(Planted::turn_ignored, floor, 2);
    EXPECT_GT(found.planless, 0u) << floor.name;
    EXPECT_GT(found.locked_in, 0u) << floor.name;
  }
  EXPECT_GT(with(Planted::turn_ignored, test::spur(), 3).locked_in, 0u);
}

TEST(ExploreGuard, FindsAConflictLeftOut) {
  const floor::Floor ring = test::figure_of_eight_without_crossing();
  const floor::Ways ways(ring);
  const floor::Track tables(ways);
  EXPECT_GT(with(Planted::nothing, test::figure_of_eight(), 2, &tables).contacts, 0u);
}

TEST(ExploreGuard, FindsTrackReleasedByTime) {
  for (const auto& floor : explored_floors()) {
    EXPECT_GT(with(Planted::release_by_time, floor, 2).contacts, 0u) << floor.name;
  }
}

}  // namespace
}  // namespace tagline
