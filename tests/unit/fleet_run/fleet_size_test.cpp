// The textbook's three cases of shared/check-values.md (Groover, chapter on material transport
// systems; values from memory, re-derived by hand there).
#include "server/sim/fleet_size.hpp"

#include <gtest/gtest.h>

#include <stdexcept>

namespace tagline::sim {
namespace {

// Load 0.75 min, unload 0.50 min, 110 m loaded and 80 m empty at 50 m/min, 40 deliveries an hour.
TEST(FleetSize, CaseA) {
  const DeliveryCycle cycle{75, 110.0 / 50 * 60, 80.0 / 50 * 60};
  EXPECT_NEAR(cycle.total_s() / 60, 5.05, 1e-9);
  const FleetSize size = fleet_size(cycle, 40, {.availability = 0.95, .traffic = 0.90});
  EXPECT_NEAR(size.workload_s / 60, 202, 1e-9);
  EXPECT_NEAR(size.available_s / 60, 51.3, 1e-9);
  EXPECT_NEAR(size.exact, 3.94, 0.005);
  EXPECT_EQ(size.carts, 4u);
}

// Handling 1.5 min, 250 ft loaded and 300 ft empty at 200 ft/min, 40 an hour; each further vehicle
// costs all of them 5 % of their time.
TEST(FleetSize, CaseBWithTrafficThatGrowsWithTheFleet) {
  const DeliveryCycle cycle{90, 250.0 / 200 * 60, 300.0 / 200 * 60};
  EXPECT_NEAR(cycle.total_s() / 60, 4.25, 1e-9);
  const auto factors = [](std::size_t n) {
    return WorkFactors{.traffic = 1 - 0.05 * (static_cast<double>(n) - 1)};
  };
  EXPECT_NEAR(3 * 60 * factors(3).traffic, 162, 1e-9);
  const FleetSize size = fleet_size(cycle, 40, factors, 20);
  EXPECT_NEAR(size.workload_s / 60, 170, 1e-9);
  EXPECT_NEAR(4 * size.available_s / 60, 204, 1e-9);
  EXPECT_EQ(size.carts, 4u);
  EXPECT_EQ(fleet_size(cycle, 40, factors, 3).carts, 0u);  // three don't do
}

// Load and unload 24 s each, 220 m loaded and 160 m empty at 1 m/s, 35 an hour.
TEST(FleetSize, CaseC) {
  const DeliveryCycle cycle{48, 220, 160};
  EXPECT_NEAR(cycle.total_s(), 428, 1e-9);
  const FleetSize size = fleet_size(cycle, 35, {.availability = 0.94, .traffic = 0.90});
  EXPECT_NEAR(size.workload_s / 3600, 4.16, 0.005);
  EXPECT_NEAR(size.available_s / 3600, 0.846, 1e-9);
  EXPECT_EQ(size.carts, 5u);
}

TEST(FleetSize, AWholeNumberOfCartsIsNotRoundedUp) {
  EXPECT_EQ(fleet_size({60, 60, 60}, 60, {}).carts, 3u);
  EXPECT_EQ(fleet_size({60, 60, 60}, 61, {}).carts, 4u);
}

TEST(FleetSize, NonsenseIsRefused) {
  EXPECT_THROW(fleet_size({0, 0, 0}, 10, {}), std::invalid_argument);
  EXPECT_THROW(fleet_size({1, 1, 1}, -1, {}), std::invalid_argument);
  EXPECT_THROW(fleet_size({1, 1, 1}, 1, {.availability = 0}), std::invalid_argument);
  EXPECT_THROW(fleet_size({1, 1, 1}, 1, {.traffic = 1.1}), std::invalid_argument);
}

}  // namespace
}  // namespace tagline::sim
