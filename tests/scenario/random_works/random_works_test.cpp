// Long random runs on works made at random: all features mixed, fleets of all sizes up to the live
// limit, carts with uneven speeds, unread tags, things in the way, links that drop, segments,
// stations and carts out of service for a while. The referee, which knows only where bodies are,
// sees no contact; nobody stands still for ever.
//
// TAGLINE_CART_HOURS says how many cart-hours to run in all (200 unless set, 50 with sanitizers);
// TAGLINE_FIRST_SEED with which floor to begin, TAGLINE_RUN_HOURS how long each run is (2 unless
// set; less for fleets that take much computing). `deploy/run test` runs the short one; the figures
// of a long one are in DEVELOPERS.md.
#include "tests/support/random_works.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>

#include "server/sim/fleet_run.hpp"
#include "tests/support/effort.hpp"

namespace tagline::test {
namespace {

double from_environment(const char* name, double usual) {
  const char* text = std::getenv(name);
  return text != nullptr ? std::atof(text) : usual;
}

struct Sums {
  double cart_hours{0};
  std::uint64_t runs{0}, deliveries{0}, events{0}, helped{0}, gridlocks{0}, stuck{0}, contacts{0},
      conflicts{0}, moving_on{0};
  std::size_t most_points{0}, most_carts{0};
  double least_gap_mm{1e9};
};

/// Hours. Every floor and fleet has its run, the longest ones are those that compute fastest: small
/// fleets and those that move on. (Up to six carts are tried out on copies of the guard.)
double longest_run(std::size_t carts, bool moving_on) {
  if (moving_on || carts <= 3) return 1000;
  if (carts <= 6) return 4;
  return carts <= 12 ? 20 : 1;
}

void print(const Sums& sums) {
  std::printf(
      "  %.0f cart-hours on %llu floors of up to %zu points with up to %zu carts (%llu moving "
      "on):\n"
      "  %llu deliveries, %llu events, %llu contacts, %llu conflicts in the books, %llu "
      "gridlocks,\n"
      "  %llu stuck, least gap %.0f mm, a person helped %llu times\n",
      sums.cart_hours, static_cast<unsigned long long>(sums.runs), sums.most_points,
      sums.most_carts, static_cast<unsigned long long>(sums.moving_on),
      static_cast<unsigned long long>(sums.deliveries),
      static_cast<unsigned long long>(sums.events), static_cast<unsigned long long>(sums.contacts),
      static_cast<unsigned long long>(sums.conflicts),
      static_cast<unsigned long long>(sums.gridlocks), static_cast<unsigned long long>(sums.stuck),
      sums.least_gap_mm, static_cast<unsigned long long>(sums.helped));
  std::fflush(stdout);
}

TEST(RandomWorks, NobodyTouchesAndNobodyStandsForEver) {
  const double wanted = from_environment("TAGLINE_CART_HOURS", lighter(200.0));
  const auto first = static_cast<std::uint32_t>(from_environment("TAGLINE_FIRST_SEED", 1));
  const double run_hours = from_environment("TAGLINE_RUN_HOURS", 2);
  Sums sums;
  for (std::uint32_t seed = first; sums.cart_hours < wanted; ++seed) {
    std::mt19937 random(seed * 7919U);
    const auto pick = [&](std::uint32_t n) { return random() % n; };
    // Mostly small ones: there is more to collide with. Now and then up to 500 points.
    const int slots =
        pick(12) == 0 ? 4 + static_cast<int>(pick(18)) : 1 + static_cast<int>(pick(4));
    const RandomWorks works = random_works(seed, slots);
    const floor::Ways ways(works.floor);
    const floor::Track track(ways);
    const traffic::LiveLimit limit = traffic::live_limit(track);
    if (limit.carts == 0 || sim::job_flows(works.floor).empty()) continue;
    sim::FleetRunOptions options;
    const auto most = static_cast<std::uint32_t>(std::min<std::size_t>(limit.carts, 40));
    options.carts = pick(2) == 0 ? most : 1 + pick(most);
    options.seed = seed;
    options.hours = std::min(run_hours, longest_run(options.carts, limit.moving_on(options.carts)));
    options.jobs =
        pick(2) == 0 ? sim::FleetRunOptions::Jobs::saturate : sim::FleetRunOptions::Jobs::per_hour;
    options.jobs_per_hour = static_cast<double>(10 * options.carts);
    options.speed_noise = pick(2) == 0 ? 0 : 0.2;
    options.miss_rate = pick(3) == 0 ? 0 : 0.02;
    options.stalls_per_hour = pick(3) == 0 ? 0 : 6;
    options.drops_per_hour = pick(3) == 0 ? 0 : 10;
    options.closings_per_hour = pick(2) == 0 ? 0 : 6;
    SCOPED_TRACE("seed " + std::to_string(seed) + ", slots " + std::to_string(slots) + ", " +
                 std::to_string(works.floor.points.size()) + " points, " +
                 std::to_string(options.carts) + " of " + std::to_string(limit.carts) + " carts");
    sim::FleetRunResult result;
    try {
      result = sim::run_fleet(track, options);
    } catch (const sim::TooManyCarts&) {
      continue;  // moving on: not every number of carts can be set down at once
    }
    const double before = sums.cart_hours;
    ++sums.runs;
    sums.cart_hours += result.simulated_s / 3600 * static_cast<double>(options.carts);
    sums.deliveries += result.deliveries;
    sums.events += result.events;
    sums.helped += result.helped;
    sums.gridlocks += result.gridlocks;
    sums.stuck += result.stuck_carts;
    sums.contacts += result.body_contacts;
    sums.conflicts += result.held_conflicts;
    sums.moving_on += limit.moving_on(options.carts) ? 1 : 0;
    sums.most_points = std::max(sums.most_points, works.floor.points.size());
    sums.most_carts = std::max(sums.most_carts, options.carts);
    sums.least_gap_mm = std::min(sums.least_gap_mm, result.least_gap_mm);
    EXPECT_EQ(result.broken, "");
    EXPECT_EQ(result.body_contacts, 0u);
    EXPECT_EQ(result.held_conflicts, 0u);
    EXPECT_EQ(result.gridlocks, 0u);
    EXPECT_EQ(result.stuck_carts, 0u);
    EXPECT_GT(result.deliveries, 0u);
    constexpr double told_every = 10'000;
    if (std::floor(before / told_every) < std::floor(sums.cart_hours / told_every)) print(sums);
    if (testing::Test::HasFailure() && wanted <= 1000) break;
  }
  print(sums);
}

}  // namespace
}  // namespace tagline::test
