// See plan_command.hpp.
#include "server/app/plan_command.hpp"

#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "server/app/bad_input.hpp"
#include "server/app/exit_codes.hpp"
#include "server/app/inputs.hpp"
#include "server/app/plan_chart.hpp"
#include "server/app/plan_study.hpp"
#include "server/app/print.hpp"
#include "server/app/run_progress.hpp"

namespace tagline::app {
namespace {

using nlohmann::ordered_json;

constexpr int exit_not_carried = 1;

ordered_json estimate_json(const sim::Estimate& e) {
  const auto milli = [](double value) { return std::round(value * 1000) / 1000; };
  return {{"mean", milli(e.mean)}, {"half_width_95", milli(e.half_width)}};
}

ordered_json plan_json(const Plant& plant, const PlanOptions& options, const PlanStudy& study) {
  ordered_json fleets = ordered_json::array();
  for (const PlannedFleet& fleet : study.fleets) {
    fleets.push_back({{"carts", fleet.carts},
                      {"capacity_per_hour", estimate_json(fleet.capacity)},
                      {"bound_per_hour", fleet.bound_per_hour},
                      {"deliveries_per_hour", estimate_json(fleet.deliveries_per_hour)},
                      {"lead_time_s", estimate_json(fleet.lead_time_s)},
                      {"waiting_share", estimate_json(fleet.waiting)},
                      {"carries", fleet.carries}});
  }
  const PlannedFleet& meant = study.enough ? study.fleets[*study.enough] : study.fleets.back();
  const bool track = meant.track_limits && study.bound_of_one.busiest;
  ordered_json bottleneck{{"kind", track ? "track" : "fleet"},
                          {"text", bottleneck_text(plant.track, study)}};
  if (track) bottleneck["place"] = plant.track.name(*study.bound_of_one.busiest);
  if (meant.busiest_merge) bottleneck["busiest_merge"] = plant.floor[*meant.busiest_merge].id;
  ordered_json j{{"floor", plant.floor.name},
                 {"demand_factor", options.demand_factor},
                 {"demand_per_hour", study.demand_per_hour},
                 {"hours", options.hours},
                 {"runs", options.runs},
                 {"seed", options.seed},
                 {"textbook",
                  {{"handling_s", study.cycle.handling_s},
                   {"loaded_s", study.cycle.loaded_s},
                   {"empty_s", study.cycle.empty_s},
                   {"cycle_s", study.cycle.total_s()},
                   {"workload_s_per_hour", study.textbook.workload_s},
                   {"availability", study.factors.availability},
                   {"traffic_factor", study.factors.traffic},
                   {"efficiency", study.factors.efficiency},
                   {"available_s_per_hour", study.textbook.available_s},
                   {"exact", study.textbook.exact},
                   {"carts", study.textbook.carts}}},
                 {"max_live_carts", study.live_carts},
                 {"fleets", fleets},
                 {"carts_needed", study.enough ? ordered_json(meant.carts) : ordered_json(nullptr)},
                 {"bottleneck", bottleneck}};
  if (!study.broken.empty()) j["broken"] = study.broken;
  return j;
}

std::string plan_text(const Plant& plant, const PlanOptions& options, const PlanStudy& study) {
  std::string text = print("%s: %.1f deliveries per hour wanted\n\nBy the textbook\n",
                           plant.floor.name.c_str(), study.demand_per_hour);
  text += print("  a delivery        %.0f s handling + %.0f s loaded + %.0f s empty = %.0f s\n",
                study.cycle.handling_s, study.cycle.loaded_s, study.cycle.empty_s,
                study.cycle.total_s());
  text += print("  work              %.1f per hour x %.0f s = %.0f s per hour\n",
                study.demand_per_hour, study.cycle.total_s(), study.textbook.workload_s);
  text += print(
      "  a cart works      3600 s x %.2f availability x %.2f traffic x %.2f efficiency = %.0f s\n",
      study.factors.availability, study.factors.traffic, study.factors.efficiency,
      study.textbook.available_s);
  text += print("  carts             %.0f / %.0f = %.2f, so %zu\n", study.textbook.workload_s,
                study.textbook.available_s, study.textbook.exact, study.textbook.carts);
  text += print("\nBy simulation (%d runs of %g h each; +- 95 %% confidence)\n", options.runs,
                options.hours);
  text +=
      "  carts   can deliver/h        bound/h   with the demand: deliveries/h   mean lead time, "
      "s   waiting\n";
  for (const PlannedFleet& fleet : study.fleets) {
    text += print(
        "  %5zu   %7.1f +- %5.1f %s %9.1f          %7.1f +- %5.1f        %8.0f +- %5.0f    %6.1f "
        "%%\n",
        fleet.carts, fleet.capacity.mean, fleet.capacity.half_width,
        fleet.carries ? "enough" : "      ", fleet.bound_per_hour, fleet.deliveries_per_hour.mean,
        fleet.deliveries_per_hour.half_width, fleet.lead_time_s.mean, fleet.lead_time_s.half_width,
        100 * fleet.waiting.mean);
  }
  text += "\n";
  text += study.enough ? print("%zu carts carry the demand.", study.fleets[*study.enough].carts)
                       : print("No number of carts up to %zu carries the demand.",
                               study.fleets.back().carts);
  text += print(" The floor stays live with at most %zu.\nWhat limits: %s.\n", study.live_carts,
                bottleneck_text(plant.track, study).c_str());
  text += "A plan, not a promise: the runs know nothing of people in the way or of repairs.\n";
  if (!study.broken.empty()) text += "BROKEN: " + study.broken + "\n";
  return text;
}

}  // namespace

int plan(const PlanOptions& options) {
  const auto plant = load_plant(options.floor);
  RunProgress terminal;
  const PlanStudy study =
      study_plan(*plant, options, [&](const std::string& line) { terminal.show(line); });
  terminal.wipe();
  if (!options.svg.empty()) {
    std::ofstream out(options.svg);
    out << draw_plan(plant->floor.name, study);
    out.flush();
    if (!out) throw std::runtime_error("can't write the drawing " + options.svg.string());
  }
  if (options.json) {
    std::cout << plan_json(*plant, options, study).dump(2) << '\n';
  } else {
    std::cout << plan_text(*plant, options, study);
  }
  if (!study.broken.empty()) {
    std::cerr << "tagline: a run broke an invariant: " << study.broken
              << "; run tagline simulate with these carts and this seed for a trace\n";
    return exit_broken;
  }
  return study.enough ? 0 : exit_not_carried;
}

}  // namespace tagline::app
