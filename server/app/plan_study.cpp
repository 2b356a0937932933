// See plan_study.hpp.
#include "server/app/plan_study.hpp"

#include <algorithm>
#include <cstdio>
#include <stdexcept>

#include "server/app/bad_input.hpp"
#include "server/traffic/capacity.hpp"

namespace tagline::app {
namespace {

/// Carts of one fleet differ by so much; nothing else goes wrong (common practice, no source).
constexpr double usual_noise = 0.1;
constexpr std::size_t beyond_enough = 2;

/// What several runs of one kind gave.
struct Runs {
  std::vector<double> deliveries, leads, waiting;
  sim::FleetRunResult last;
};

class Study {
 public:
  Study(const Plant& plant, const PlanOptions& options,
        const std::function<void(const std::string&)>& tell)
      : plant_(plant), options_(options), tell_(tell) {}

  PlanStudy work() {
    const floor::Floor& floor = plant_.floor;
    for (const floor::Demand& demand : floor.demand) study_.demand_per_hour += demand.per_hour;
    study_.demand_per_hour *= options_.demand_factor;
    if (study_.demand_per_hour <= 0) {
      throw BadInput("\"" + floor.name +
                     "\" names no demand to plan for; add \"demand\" to the floor file");
    }
    flows_ = dispatch::flows_of(floor);
    study_.bound_of_one = bound(1);
    study_.cycle = {study_.bound_of_one.handling_s, study_.bound_of_one.loaded_s,
                    study_.bound_of_one.empty_s};
    study_.textbook = sim::fleet_size(study_.cycle, study_.demand_per_hour, study_.factors);
    const traffic::LiveLimit limit = traffic::live_limit(plant_.track);
    study_.live_carts = limit.carts;
    study_.live_reason = limit.reason;
    if (limit.carts == 0) throw BadInput("the floor carries no cart: " + limit.reason);
    for (std::size_t carts = 1; carts <= limit.carts && study_.broken.empty(); ++carts) {
      study_.fleets.push_back(try_fleet(carts));
      if (study_.fleets.back().carries && !study_.enough) study_.enough = carts - 1;
      if (study_.enough && carts - 1 >= *study_.enough + beyond_enough) break;
    }
    return study_;
  }

 private:
  dispatch::Throughput bound(std::size_t carts) {
    try {
      return dispatch::throughput_bound(plant_.track, flows_, carts);
    } catch (const std::invalid_argument& error) {
      throw BadInput(options_.floor.string() + ": " + error.what());
    }
  }

  Runs run(std::size_t carts, sim::FleetRunOptions::Jobs jobs, const std::string& what) {
    Runs runs;
    for (int k = 0; k < options_.runs && study_.broken.empty(); ++k) {
      tell_(std::to_string(carts) + " carts, " + what + ", run " + std::to_string(k + 1) + " of " +
            std::to_string(options_.runs));
      sim::FleetRunOptions run;
      run.carts = carts;
      run.hours = options_.hours;
      run.seed = options_.seed + static_cast<std::uint64_t>(k);
      run.jobs = jobs;
      run.jobs_per_hour = study_.demand_per_hour;
      run.speed_noise = usual_noise;
      try {
        runs.last = sim::run_fleet(plant_.track, run);
      } catch (const sim::TooManyCarts& error) {
        throw BadInput(error.what());
      }
      if (!runs.last.broken.empty()) {
        study_.broken = std::to_string(carts) + " carts, seed " + std::to_string(run.seed) + ": " +
                        runs.last.broken;
      }
      runs.deliveries.push_back(runs.last.deliveries_per_hour);
      if (runs.last.deliveries > 0) runs.leads.push_back(runs.last.lead_time_s.mean);
      runs.waiting.push_back(runs.last.share.waiting);
    }
    return runs;
  }

  PlannedFleet try_fleet(std::size_t carts) {
    PlannedFleet fleet;
    fleet.carts = carts;
    const dispatch::Throughput most = bound(carts);
    fleet.bound_per_hour = most.per_hour;
    fleet.track_limits = most.track_per_hour < most.fleet_per_hour;
    const Runs full = run(carts, sim::FleetRunOptions::Jobs::saturate, "queue never empty");
    fleet.capacity = sim::estimate(full.deliveries);
    fleet.carries = fleet.capacity.mean - fleet.capacity.half_width >= study_.demand_per_hour;
    const auto busiest = std::ranges::max_element(full.last.merges, {}, &sim::MergeWaits::seconds);
    if (busiest != full.last.merges.end() && busiest->waits > 0) {
      fleet.busiest_merge = busiest->point;
      fleet.merge_wait_s =
          busiest->seconds / (full.last.simulated_s / 3600) / static_cast<double>(carts);
    }
    const Runs usual = run(carts, sim::FleetRunOptions::Jobs::per_hour, "with the demand");
    fleet.deliveries_per_hour = sim::estimate(usual.deliveries);
    fleet.lead_time_s = sim::estimate(usual.leads);
    fleet.waiting = sim::estimate(usual.waiting);
    return fleet;
  }

  const Plant& plant_;
  const PlanOptions& options_;
  const std::function<void(const std::string&)>& tell_;
  std::vector<dispatch::Flow> flows_;
  PlanStudy study_;
};

}  // namespace

PlanStudy study_plan(const Plant& plant, const PlanOptions& options,
                     const std::function<void(const std::string&)>& tell) {
  return Study(plant, options, tell).work();
}

std::string bottleneck_text(const floor::Track& track, const PlanStudy& study) {
  const PlannedFleet& fleet = study.enough ? study.fleets[*study.enough] : study.fleets.back();
  const dispatch::Throughput& one = study.bound_of_one;
  char text[300];
  if (fleet.track_limits && one.busiest) {
    std::snprintf(
        text, sizeof text,
        "the track around %s: it is taken for %.1f s by each delivery, so no fleet brings "
        "more than %.1f per hour",
        track.name(*one.busiest).c_str(), one.busiest_s, one.track_per_hour);
    return text;
  }
  std::snprintf(text, sizeof text,
                "the carts themselves: each delivery takes %.0f s of a cart's time at least",
                study.cycle.total_s());
  std::string line = text;
  if (fleet.busiest_merge) {
    std::snprintf(text, sizeof text,
                  "; most waiting is for the merge %s, %.0f s per cart and hour at full load",
                  track.floor()[*fleet.busiest_merge].id.c_str(), fleet.merge_wait_s);
    line += text;
  }
  return line;
}

}  // namespace tagline::app
