// Random orders of everything that can happen, on small floors with one difficulty each: no two
// carts meet (I1, I2), every job ends, and each is delivered exactly once (I5, I6). The core's own
// invariants throw inside handle().
#include <gtest/gtest.h>

#include "server/floor/track.hpp"
#include "tests/support/abstract_fleet.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline {
namespace {

struct Disturbance {
  const char* name;
  double miss, drop, stop, cancel, restart;
};

constexpr Disturbance calm{"calm", 0, 0, 0, 0, 0};
constexpr Disturbance rough{"rough", 0.1, 0.02, 0.02, 0.02, 0};
constexpr Disturbance crashing{"crashing", 0.1, 0.02, 0, 0, 0.01};

void run(const floor::Floor& floor, std::size_t carts, const Disturbance& d, std::uint32_t seed) {
  SCOPED_TRACE(floor.name + ", " + std::to_string(carts) + " carts, " + d.name + ", seed " +
               std::to_string(seed));
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  test::AbstractFleet fleet(track, carts, seed);
  std::size_t asked = 0;
  const std::size_t jobs = 25;
  for (int event = 0; event < 3000; ++event) {
    const CartIx cart{static_cast<std::uint32_t>(fleet.pick(carts))};
    if (asked < jobs && fleet.chance(0.05)) {
      const auto from = fleet.pick(floor.stations.size());
      const auto to = (from + 1 + fleet.pick(floor.stations.size() - 1)) % floor.stations.size();
      fleet.ask_job(floor.stations[from].id, floor.stations[to].id);
      ++asked;
    }
    if (fleet.chance(d.drop)) fleet.drop_link(cart);
    if (fleet.chance(d.drop * 2)) fleet.greet(cart);
    if (fleet.chance(d.stop)) fleet.press_stop(cart);
    if (fleet.chance(d.stop * 2)) fleet.release_at_cart(cart);
    if (fleet.chance(d.cancel)) fleet.cancel({1 + fleet.pick(jobs)});
    if (fleet.chance(d.restart)) fleet.restart_service();
    if (fleet.chance(0.05)) fleet.tick();
    fleet.step(cart, d.miss);
  }
  // Calm again: everybody connected and released, and everything must come to its end.
  for (std::uint32_t i = 0; i < carts; ++i) {
    fleet.greet({i});
    fleet.release_at_cart({i});
  }
  ASSERT_TRUE(fleet.run_dry()) << "gridlock: " << fleet.describe();
  std::size_t delivered = 0;
  for (const auto* job : fleet.core().jobs()) {
    if (job->state == control::JobState::delivered) {
      ++delivered;
      EXPECT_EQ(fleet.deliveries[job->id], 1) << "job " << job->id.value;
    } else {
      EXPECT_EQ(job->state, control::JobState::cancelled);
    }
  }
  if (d.cancel == 0) {
    EXPECT_EQ(delivered, asked);
  }
  EXPECT_GT(delivered, 0u);
}

class EveryFloor : public testing::TestWithParam<std::size_t> {};

TEST_P(EveryFloor, EndsAllJobsInAnyOrderOfEvents) {
  const floor::Floor floor = test::small_floors()[GetParam()];
  std::size_t sidings = 0;
  for (const auto& point : floor.points) sidings += point.siding ? 1 : 0;
  for (std::size_t carts = 1; carts <= sidings; ++carts) {
    for (const Disturbance& d : {calm, rough, crashing}) {
      for (std::uint32_t seed = 1; seed <= 3; ++seed) {
        ASSERT_NO_FATAL_FAILURE(run(floor, carts, d, seed));
      }
    }
  }
}

// Restarts with greetings that come late and one by one: nothing may be granted meanwhile that a
// cart not yet heard of needs as it is. (Once found by a review: 13 of 2,864 such runs ended with a
// cart that could not be fitted in any more.)
TEST_P(EveryFloor, SurvivesSlowGreetingsAfterRestarts) {
  const floor::Floor floor = test::small_floors()[GetParam()];
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  std::size_t carts = 0;
  for (const auto& point : floor.points) carts += point.siding ? 1 : 0;
  for (std::uint32_t seed = 1; seed <= test::lighter(60U); ++seed) {
    SCOPED_TRACE(floor.name + ", seed " + std::to_string(seed));
    test::AbstractFleet fleet(track, carts, seed);
    for (int event = 0; event < 1500; ++event) {
      const CartIx cart{static_cast<std::uint32_t>(fleet.pick(carts))};
      if (event < 1200 && fleet.chance(0.06)) {
        const auto from = fleet.pick(floor.stations.size());
        const auto to = (from + 1 + fleet.pick(floor.stations.size() - 1)) % floor.stations.size();
        fleet.ask_job(floor.stations[from].id, floor.stations[to].id);
      }
      if (event % 150 == 149) fleet.restart_service();
      if (fleet.chance(0.015)) fleet.greet(cart);
      if (fleet.chance(0.05)) fleet.tick();
      fleet.step(cart, 0.1);
    }
    for (std::uint32_t i = 0; i < carts; ++i) fleet.greet({i});
    for (std::uint32_t i = 0; i < carts; ++i) {
      EXPECT_EQ(fleet.core().cart({i}).trouble, "") << fleet.describe();
    }
    ASSERT_TRUE(fleet.run_dry()) << fleet.describe();
  }
}

INSTANTIATE_TEST_SUITE_P(SmallFloors, EveryFloor,
                         testing::Range(std::size_t{0}, test::small_floors().size()));

}  // namespace
}  // namespace tagline
