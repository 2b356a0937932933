// The study behind `tagline plan`: what fleets of growing size deliver on a floor.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "server/app/inputs.hpp"
#include "server/app/plan_command.hpp"
#include "server/dispatch/throughput.hpp"
#include "server/sim/confidence.hpp"
#include "server/sim/fleet_run.hpp"
#include "server/sim/fleet_size.hpp"

namespace tagline::app {

/// One number of carts.
struct PlannedFleet {
  std::size_t carts{};
  /// Deliveries per hour with a queue that is never empty: the most it can do.
  sim::Estimate capacity;
  double bound_per_hour{};
  /// With the demand as it is: deliveries per hour, mean lead time, share of time spent waiting.
  sim::Estimate deliveries_per_hour, lead_time_s, waiting;
  /// Of one of the runs at capacity: the merge at which carts waited longest, s per hour and cart.
  std::optional<PointIx> busiest_merge;
  double merge_wait_s{};
  /// The fleet bound or the track bound is the lower one.
  bool track_limits{};
  /// The capacity, at the low end of its confidence interval, is not below the demand.
  bool carries{};
};

struct PlanStudy {
  double demand_per_hour{};
  /// Textbook terms; factors of working time as assumed (common practice, no source: 85 to 95 %
  /// availability; the traffic factor is the textbook's usual one).
  sim::DeliveryCycle cycle;
  sim::WorkFactors factors{.availability = 0.9, .traffic = 0.9, .efficiency = 1};
  sim::FleetSize textbook;
  std::size_t live_carts{};
  std::string live_reason;
  /// From one cart to two beyond what suffices, or to the live limit.
  std::vector<PlannedFleet> fleets;
  /// Index of the least that carries the demand.
  std::optional<std::size_t> enough;
  dispatch::Throughput bound_of_one;
  /// What broke in a run; "" if nothing did.
  std::string broken;
};

/// `tell`: where the work is, for a terminal. Throws BadInput for a floor without demand, without a
/// way for it, or that carries no cart.
PlanStudy study_plan(const Plant& plant, const PlanOptions& options,
                     const std::function<void(const std::string&)>& tell);

/// What limits the fleet that suffices (or the largest tried), one sentence.
std::string bottleneck_text(const floor::Track& track, const PlanStudy& study);

}  // namespace tagline::app
