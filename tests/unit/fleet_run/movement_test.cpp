// The movement of a run as it is written down for whoever draws it: true to the bodies, within its
// bounds, and of no effect on the run.
#include "server/sim/movement.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "server/sim/fleet_run.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::sim {
namespace {

struct MovementSite {
  explicit MovementSite(floor::Floor its) : floor(std::move(its)), ways(floor), track(ways) {}
  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
};

FleetRunOptions busy(std::size_t carts) {
  FleetRunOptions options;
  options.carts = carts;
  options.hours = 0.5;
  options.seed = 5;
  options.jobs = FleetRunOptions::Jobs::saturate;
  options.miss_rate = 0.1;
  options.stalls_per_hour = 6;
  return options;
}

/// As whoever draws it has the body at that moment.
Sighting drawn_at(const std::vector<Sighting>& line, double at) {
  const auto after = std::ranges::upper_bound(line, at, {}, &Sighting::at_s);
  if (after == line.end()) return line.back();
  const Sighting& to = *after;
  const Sighting& from = *std::prev(after);
  const double part = (at - from.at_s) / (to.at_s - from.at_s);
  Sighting drawn = from;
  drawn.centre = {from.centre.x + part * (to.centre.x - from.centre.x),
                  from.centre.y + part * (to.centre.y - from.centre.y)};
  drawn.nose = from.nose + part * std::remainder(to.nose - from.nose, 360);
  return drawn;
}

/// Moments of every cart as it was between two things that happened to it.
struct Truth {
  double at{};
  std::size_t cart{};
  Rectangle body;
  Spent doing{};
  bool loaded{false};
};

TEST(Movement, IsWhereTheBodiesAreThroughoutOnEveryFloor) {
  for (const floor::Floor& floor : test::small_floors()) {
    const MovementSite site(floor);
    MovementRecorder recorder(2, {900, 100'000});
    std::vector<Truth> truths;
    const FleetRunResult result =
        run_fleet(site.track, busy(2), {}, {}, [&](double now, CartIx ix, const FleetCart& cart) {
          recorder.follow(ix, cart, now);
          // Later moments of the same cart may not come: it is told something before. Those that
          // did not are dropped.
          std::erase_if(truths, [&](const Truth& t) { return t.cart == ix.value && t.at > now; });
          if (now > 890) return;
          const double until = cart.still() ? now + 0.01 : std::min(cart.due(), now + 3);
          for (int k = 0; now + 0.001 + 0.17 * k < until; ++k) {
            const double at = now + 0.001 + 0.17 * k;
            truths.push_back({at, ix.value, cart.body(at), cart.spending(), cart.loaded()});
          }
        });
    ASSERT_EQ(result.broken, "");
    const Movement movement = recorder.end(result.simulated_s);
    ASSERT_EQ(movement.carts.size(), 2u);
    EXPECT_EQ(movement.until_s, 900);
    ASSERT_GT(truths.size(), 1000u) << floor.name;
    double worst_mm = 0, worst_degrees = 0;
    for (const Truth& truth : truths) {
      const Sighting drawn = drawn_at(movement.carts[truth.cart], truth.at);
      worst_mm = std::max(worst_mm, std::hypot(drawn.centre.x - truth.body.centre.x,
                                               drawn.centre.y - truth.body.centre.y));
      const double nose =
          std::atan2(truth.body.along.y, truth.body.along.x) * 180 / std::numbers::pi;
      worst_degrees = std::max(worst_degrees, std::abs(std::remainder(nose - drawn.nose, 360)));
      ASSERT_EQ(drawn.doing, truth.doing) << floor.name << " at " << truth.at;
      ASSERT_EQ(drawn.loaded, truth.loaded) << floor.name << " at " << truth.at;
    }
    // What was left out, and what half a second of speeding up or of a bend hides.
    EXPECT_LT(worst_mm, 50) << floor.name;
    EXPECT_LT(worst_degrees, 12) << floor.name;
  }
}

TEST(Movement, TakesFewSightings) {
  const MovementSite site(test::loop_with_bay());
  MovementRecorder recorder(3, {1200, 100'000});
  run_fleet(site.track, busy(3), {}, {},
            [&](double now, CartIx ix, const FleetCart& cart) { recorder.follow(ix, cart, now); });
  const Movement movement = recorder.end(1800);
  std::size_t all = 0;
  for (const auto& line : movement.carts) {
    EXPECT_TRUE(std::ranges::is_sorted(line, {}, &Sighting::at_s));
    EXPECT_LE(line.back().at_s, 1200);
    all += line.size();
  }
  EXPECT_GT(all, 100u);
  EXPECT_LT(all, 3 * 1200u);  // half of what looking twice a second would take
}

TEST(Movement, EndsWhereItsBoundIs) {
  const MovementSite site(test::loop_with_bay());
  MovementRecorder recorder(3, {1200, 300});
  run_fleet(site.track, busy(3), {}, {},
            [&](double now, CartIx ix, const FleetCart& cart) { recorder.follow(ix, cart, now); });
  const Movement movement = recorder.end(1800);
  EXPECT_GT(movement.until_s, 20);
  EXPECT_LT(movement.until_s, 600);
  std::size_t all = 0;
  for (const auto& line : movement.carts) {
    ASSERT_FALSE(line.empty());
    EXPECT_LE(line.back().at_s, movement.until_s);
    all += line.size();
  }
  EXPECT_LE(all, 300u + 3 * 10);
}

TEST(Movement, NoRunIsAnotherForBeingWatched) {
  const MovementSite site(test::loop_with_shortcut());
  MovementRecorder recorder(3, {1200, 100'000});
  const FleetRunResult alone = run_fleet(site.track, busy(3));
  const FleetRunResult watched = run_fleet(
      site.track, busy(3), {}, {},
      [&](double now, CartIx ix, const FleetCart& cart) { recorder.follow(ix, cart, now); });
  EXPECT_EQ(alone.events, watched.events);
  EXPECT_EQ(alone.deliveries, watched.deliveries);
  EXPECT_EQ(alone.distance_m, watched.distance_m);
  EXPECT_EQ(alone.lead_time_s.mean, watched.lead_time_s.mean);
}

}  // namespace
}  // namespace tagline::sim
