// Days long enough for batteries to run down, where there are more carts than sidings.
#include <gtest/gtest.h>

#include "server/sim/fleet_run.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

// Two carts that needed the one charger used to send each other away from it, and the core's books
// came apart.
TEST(LongDay, CartsThatMoveOnTakeTurnsAtTheCharger) {
  floor::Floor floor = plain_loop();
  floor.chargers.push_back({"C1", *floor.find_point("E")});
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  sim::FleetRunOptions options;
  options.carts = 3;
  options.hours = 50;
  options.jobs = sim::FleetRunOptions::Jobs::saturate;
  const sim::FleetRunResult r = sim::run_fleet(track, options);
  EXPECT_EQ(r.broken, "");
  EXPECT_EQ(r.body_contacts + r.held_conflicts + r.gridlocks + r.stuck_carts, 0U);
  EXPECT_GT(r.share.charging, 0.01);
  // Each cart has the charger for a part of the time only; the others must not stand for that.
  EXPECT_GT(r.deliveries_per_hour, 30);
  std::printf("  %.1f deliveries an hour, %.0f %% of the time charging\n", r.deliveries_per_hour,
              100 * r.share.charging);
}

}  // namespace
}  // namespace tagline::test
