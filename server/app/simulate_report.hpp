// The results of simulated runs as a table for people and as JSON.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "server/floor/floor.hpp"
#include "server/sim/fleet_run.hpp"

namespace tagline::app {

/// One run and what belongs to its report.
struct RunReport {
  sim::FleetRunOptions options;
  sim::FleetRunResult result;
  /// No run with these carts and flows delivers more (dispatch/throughput.hpp).
  std::optional<double> bound_per_hour{};
  double wall_s{};
};

/// A broken run: an invariant, a gridlock, or a stuck cart.
bool is_sound(const sim::FleetRunResult& result);

/// The keys of one run, in a fixed order; only wall_s differs from run to run of one seed.
nlohmann::ordered_json report_json(const floor::Floor& floor, const RunReport& report);
/// Several runs with different seeds: sums of what must never happen, mean and half width of the
/// 95 % confidence interval of what is measured, and each run.
nlohmann::ordered_json report_json(const floor::Floor& floor, const std::vector<RunReport>& runs);

std::string report_text(const floor::Floor& floor, const RunReport& report);
std::string report_text(const floor::Floor& floor, const std::vector<RunReport>& runs);

}  // namespace tagline::app
