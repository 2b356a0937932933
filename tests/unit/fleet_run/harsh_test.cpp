// A bad day on every small floor: more than half of the tags unread, something in the way every few
// minutes, links that drop all the time.
#include <gtest/gtest.h>

#include "server/sim/fleet_run.hpp"
#include "tests/support/effort.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

// Such days found carts forgotten that had stopped beyond an unread tag, and carts that people had
// taken off in the books but left lying on the tape.
TEST(Harsh, NobodyTouchesNobodyIsForgotten) {
  std::uint64_t helped = 0;
  for (const floor::Floor& floor : small_floors()) {
    SCOPED_TRACE(floor.name);
    const floor::Ways ways(floor);
    const floor::Track track(ways);
    sim::FleetRunOptions options;
    options.carts = 3;
    options.hours = lighter(4.0);
    options.seed = 7;
    options.jobs = sim::FleetRunOptions::Jobs::saturate;
    options.speed_noise = 0.4;
    options.miss_rate = 0.6;
    options.stalls_per_hour = 20;
    options.drops_per_hour = 30;
    const sim::FleetRunResult r = sim::run_fleet(track, options);
    EXPECT_EQ(r.broken, "");
    EXPECT_EQ(r.body_contacts + r.held_conflicts + r.gridlocks + r.stuck_carts, 0U);
    EXPECT_GT(r.deliveries, lighter(20U));
    helped += r.helped;
  }
  EXPECT_GT(helped, lighter(50U)) << "not harsh";
}

}  // namespace
}  // namespace tagline::test
