// Laws that hold for every dispatcher, against long runs of the whole floor.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "server/dispatch/throughput.hpp"
#include "server/sim/confidence.hpp"
#include "server/sim/fleet_run.hpp"
#include "server/traffic/capacity.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

struct Site {
  explicit Site(floor::Floor its_floor) : floor(std::move(its_floor)), ways(floor), track(ways) {}
  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
};

/// A one-way ring with one pair of stations; the only place of rest, R, lies on the way back from
/// where loads end to where they begin, so that every job starts from R and costs one round.
/// Carts reach their speed within 4 mm: setting off costs next to nothing.
floor::Floor one_pair_ring() {
  FloorBuilder b;
  b.name("Ring with one pair of stations");
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 3000, 3000).point("R", 0, 3000).siding();
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CR", "C", "R").segment("RA", "R", "A");
  b.station("CAST", "A").handling(std::chrono::seconds{5}, std::chrono::seconds{5});
  b.station("PACK", "C").handling(std::chrono::seconds{5}, std::chrono::seconds{5});
  b.demand("CAST", "PACK", 1);
  floor::Floor floor = b.build();
  floor.cart.acceleration = floor.cart.deceleration = MmPerS2{20'000};
  return floor;
}

sim::FleetRunOptions poisson(std::size_t carts, double hours, std::uint64_t seed, double per_hour) {
  sim::FleetRunOptions o;
  o.carts = carts;
  o.hours = hours;
  o.seed = seed;
  o.jobs = sim::FleetRunOptions::Jobs::per_hour;
  o.jobs_per_hour = per_hour;
  return o;
}

/// A run, and when its jobs came, s.
sim::FleetRunResult run_noting(const Site& site, const sim::FleetRunOptions& options,
                               std::vector<double>& came) {
  came.clear();
  return sim::run_fleet(site.track, options, {}, [&](Instant now, const control::Event& event) {
    if (!std::holds_alternative<control::AskJob>(event)) return;
    came.push_back(std::chrono::duration<double>(now - sim::run_begins).count());
  });
}

/// Mean wait of these very jobs if each took `service`: W' = max(0, W + S - gap) (D. V. Lindley,
/// "The theory of queues with a single server", Proc. Cambridge Philosophical Society 48, 1952).
double lindley(const std::vector<double>& came, double service) {
  double wait = 0;
  double sum = 0;
  for (std::size_t i = 1; i < came.size(); ++i) {
    wait = std::max(0.0, wait + service - (came[i] - came[i - 1]));
    sum += wait;
  }
  return sum / static_cast<double>(came.size());
}

// M/D/1: jobs come at random, one cart serves them one at a time, each takes the same time S, that
// of a whole round: from R to the pickup, to the drop, and back to R, where it can start the next.
// Pollaczek and Khinchine: mean wait for the start Wq = rho S / (2 (1 - rho)). A job is delivered
// T after its start, T being the part of the round up to the end of unloading. So the mean lead
// time is Wq + T.
TEST(Laws, OneCartOnePairWaitsAsPollaczekAndKhinchineSay) {
  const Site site(one_pair_ring());
  // By hand: 3 m legs at 0.4 m/s take 7.5 s; the ring 30 s; handling 10 s. Each stop costs v/2a +
  // v/2d = 0.02 s, and the link 0.2 s from the cart's word that it is done until it hears how to go
  // on.
  const double to_delivery = 7.5 + 5 + 15 + 5 + 2 * (0.02 + 0.2);
  const double service = to_delivery + 7.5 + 0.02;
  const double rho = 0.7;
  std::vector<double> leads, came;
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    const auto r = run_noting(site, poisson(1, 110, seed, rho * 3600 / service), came);
    ASSERT_EQ(r.broken, "");
    ASSERT_GT(r.deliveries, 6'000u);
    leads.push_back(r.lead_time_s.mean);
    // The same arrivals worked off by hand: no chance is left, only what reaching R may cost.
    EXPECT_NEAR(r.lead_time_s.mean, lindley(came, service) + to_delivery, 0.5);
  }
  const sim::Estimate lead = sim::estimate(leads);
  const double wait = rho * service / (2 * (1 - rho));
  // Five independent runs: the truth lies within the 95 % interval, widened by half for the one
  // time in twenty, and the time that reaching and leaving R may cost.
  EXPECT_NEAR(lead.mean, wait + to_delivery, 1.5 * lead.half_width + 0.5);
  // The interval is narrow enough to tell M/D/1 from M/M/1, whose wait is twice as long.
  EXPECT_LT(lead.half_width, 0.1 * wait);
}

// The same with service that varies: M/G/1, Wq = lambda E[S^2] / (2 (1 - rho)).
TEST(Laws, ServiceThatVariesWaitsAsPollaczekAndKhinchineSay) {
  Site site(one_pair_ring());
  // Mostly handling, and that as uneven as may be.
  const double usual = 10;
  const double noise = 0.9;
  for (auto& station : site.floor.stations) {
    station.load = station.unload = std::chrono::seconds{10};
  }
  for (auto& segment : site.floor.segments) segment.speed = MmPerS{8000};
  site.floor.cart.speed = MmPerS{8000};
  site.floor.cart.acceleration = site.floor.cart.deceleration = MmPerS2{1'000'000};
  sim::FleetRunOptions options;
  options.carts = 1;
  options.hours = 80;
  options.seed = 2;
  options.speed_noise = noise;
  // With a queue that is never empty the rounds follow one another: their mean is the mean of S for
  // this cart, whose own factor of speed, f, comes from the seed.
  options.jobs = sim::FleetRunOptions::Jobs::saturate;
  const auto busy = sim::run_fleet(site.track, options);
  ASSERT_EQ(busy.broken, "");
  const double service = 3600 / busy.deliveries_per_hour;
  // Handling is uniform in usual x [1 - n, 1 + n]: variance (usual n)^2 / 3. A leg takes 1.5 s / (f
  // g) with g uniform in [1 - n, 1]: E[1/g] = ln(1 / (1 - n)) / n, E[1/g^2] = 1 / (1 - n). A round
  // is two handlings and four legs, and stops and link as above.
  const double slower = std::log(1 / (1 - noise)) / noise;
  const double leg = (service - 2 * usual - 0.46) / 4;
  const double leg_variance = leg * leg * (1 / (1 - noise) / (slower * slower) - 1);
  const double variance = 2 * usual * usual * noise * noise / 3 + 4 * leg_variance;
  const double rho = 0.6;
  const double lambda = rho / service;
  options.jobs = sim::FleetRunOptions::Jobs::per_hour;
  options.jobs_per_hour = lambda * 3600;
  options.hours = 220;
  std::vector<double> came;
  const auto r = run_noting(site, options, came);
  ASSERT_EQ(r.broken, "");
  // Waits hang together, so a mean over 20,000 jobs is only good to 4 % or so. What the formula
  // says of service that varies is therefore measured against service that doesn't, for the same
  // jobs: the ratio of both waits is E[S^2] / E[S]^2.
  const double waits = r.lead_time_s.mean - (service - leg);
  const double ratio = 1 + variance / (service * service);
  EXPECT_NEAR(waits / lindley(came, service), ratio, 0.04);
  EXPECT_GT(ratio, 1.08);  // so service that doesn't vary would be told apart
}

// L = lambda W (J. D. C. Little, "A proof for the queuing formula L = lambda W", Operations
// Research 9, 1961): jobs in the system, their rate, their time in it, each measured on its own.
TEST(Laws, LittlesLaw) {
  const Site site(ladder());
  auto options = poisson(4, 80, 3, 45);
  options.speed_noise = 0.1;
  options.stalls_per_hour = 1;
  const auto r = sim::run_fleet(site.track, options);
  ASSERT_EQ(r.broken, "");
  ASSERT_GT(r.deliveries, 3'000u);
  const double lambda = static_cast<double>(r.jobs_created) / r.simulated_s;
  // What is open at the end has an unknown part of its time to come: at most that many jobs off.
  const double ends = static_cast<double>(r.jobs_open) * r.lead_time_s.max / r.simulated_s;
  EXPECT_NEAR(r.jobs_open_mean, lambda * r.lead_time_s.mean, ends + 1e-3 * r.jobs_open_mean);
  EXPECT_GT(r.jobs_open_mean, 0.5);
}

// deliveries per hour <= the least of fleet bound and track bound (dispatch/throughput.hpp).
TEST(Laws, NoRunBeatsTheBound) {
  int runs = 0;
  for (const floor::Floor& floor : small_floors()) {
    const Site site(floor);
    const std::size_t most = traffic::live_limit(site.track).carts;
    for (std::size_t carts = 1; carts <= most; ++carts) {
      sim::FleetRunOptions options;
      options.carts = carts;
      options.hours = 2;
      options.seed = carts;
      options.jobs = sim::FleetRunOptions::Jobs::saturate;
      const auto r = sim::run_fleet(site.track, options);
      ASSERT_EQ(r.broken, "") << floor.name;
      EXPECT_EQ(r.gridlocks + r.stuck_carts, 0U) << floor.name << " with " << carts;
      const double bound =
          dispatch::throughput_bound(site.track, dispatch::flows_of(site.floor), carts).per_hour;
      EXPECT_LE(r.deliveries_per_hour, bound) << floor.name << " with " << carts;
      // A bound that is never near would be no check.
      EXPECT_GE(r.deliveries_per_hour, 0.2 * bound) << floor.name << " with " << carts;
      ++runs;
    }
  }
  EXPECT_GE(runs, 12);
}

// A lone cart with one pair of stations and a queue that is never empty does nothing but rounds:
// it comes within the link's latency of the fleet bound, and never above it.
TEST(Laws, ALoneCartReachesTheFleetBound) {
  const Site site(one_pair_ring());
  sim::FleetRunOptions options;
  options.carts = 1;
  options.hours = 50;
  options.jobs = sim::FleetRunOptions::Jobs::saturate;
  const auto r = sim::run_fleet(site.track, options);
  ASSERT_EQ(r.broken, "");
  const auto bound = dispatch::throughput_bound(site.track, dispatch::flows_of(site.floor), 1);
  EXPECT_NEAR(3600 / bound.fleet_per_hour, 40.04, 0.1);  // by hand: 30 s of ring, 10 s of handling
  EXPECT_LE(r.deliveries_per_hour, bound.per_hour);
  EXPECT_NEAR(3600 / r.deliveries_per_hour, 40.04 + 0.4, 0.3);
}

}  // namespace
}  // namespace tagline::test
