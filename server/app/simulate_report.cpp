// See simulate_report.hpp.
#include "server/app/simulate_report.hpp"

#include <algorithm>
#include <cmath>
#include <cstdarg>
#include <cstdio>

#include "server/app/print.hpp"
#include "server/sim/confidence.hpp"

namespace tagline::app {
namespace {

using nlohmann::ordered_json;

double rounded(double value, double step) { return std::round(value / step) * step; }

/// Three decimals, for people who read the JSON; more is noise.
double milli(double value) { return std::isfinite(value) ? rounded(value, 0.001) : value; }

ordered_json bound_json(const std::optional<double>& bound) {
  return bound ? ordered_json(milli(*bound)) : ordered_json(nullptr);
}

std::string time_text(double seconds) {
  const auto whole = static_cast<long>(std::lround(seconds));
  if (whole < 120) return print("%ld s", whole);
  if (whole < 7200) return print("%ld min %02ld s", whole / 60, whole % 60);
  return print("%ld h %02ld min", whole / 3600, whole / 60 % 60);
}

std::string jobs_text(const sim::FleetRunOptions& options) {
  switch (options.jobs) {
    case sim::FleetRunOptions::Jobs::saturate:
      return "queue never empty";
    case sim::FleetRunOptions::Jobs::per_hour:
      return print("%g jobs asked for per hour", options.jobs_per_hour);
    case sim::FleetRunOptions::Jobs::file:
      break;
  }
  return "jobs as in the floor's demand";
}

std::string line(const char* name, const std::string& text) {
  return print("  %-17s", name) + text + "\n";
}

std::string safety_text(const sim::FleetRunResult& r) {
  return print("%llu contacts of bodies, %llu conflicts in the books, %llu gridlocks, %llu stuck",
               static_cast<unsigned long long>(r.body_contacts),
               static_cast<unsigned long long>(r.held_conflicts),
               static_cast<unsigned long long>(r.gridlocks),
               static_cast<unsigned long long>(r.stuck_carts));
}

/// The value measured, by its name in the JSON; those of which several runs have a mean.
struct Measure {
  const char* name;
  double (*of)(const RunReport&);
};
constexpr Measure measures[] = {
    {"deliveries_per_hour", [](const RunReport& r) { return r.result.deliveries_per_hour; }},
    {"lead_time_mean_s", [](const RunReport& r) { return r.result.lead_time_s.mean; }},
    {"lead_time_p95_s", [](const RunReport& r) { return r.result.lead_time_s.p95; }},
    {"waiting_share", [](const RunReport& r) { return r.result.share.waiting; }},
    {"empty_share", [](const RunReport& r) { return r.result.share.empty; }},
    {"jobs_open", [](const RunReport& r) { return static_cast<double>(r.result.jobs_open); }},
};

sim::Estimate measured(const std::vector<RunReport>& runs, const Measure& measure) {
  std::vector<double> values;
  values.reserve(runs.size());
  for (const RunReport& run : runs) values.push_back(measure.of(run));
  return sim::estimate(values);
}

}  // namespace

bool is_sound(const sim::FleetRunResult& r) {
  return r.broken.empty() && r.body_contacts == 0 && r.held_conflicts == 0 && r.gridlocks == 0 &&
         r.stuck_carts == 0;
}

ordered_json report_json(const floor::Floor& floor, const RunReport& report) {
  const sim::FleetRunResult& r = report.result;
  ordered_json merges = ordered_json::array();
  for (const sim::MergeWaits& merge : r.merges) {
    merges.push_back({{"point", floor[merge.point].id},
                      {"waits", merge.waits},
                      {"seconds", milli(merge.seconds)}});
  }
  ordered_json j{{"carts", report.options.carts},
                 {"hours", report.options.hours},
                 {"seed", report.options.seed},
                 {"jobs_created", r.jobs_created},
                 {"jobs_refused", r.jobs_refused},
                 {"deliveries", r.deliveries},
                 {"jobs_open", r.jobs_open},
                 {"jobs_open_mean", milli(r.jobs_open_mean)},
                 {"jobs_stranded", r.jobs_stranded},
                 {"deliveries_per_hour", milli(r.deliveries_per_hour)},
                 {"bound_per_hour", bound_json(report.bound_per_hour)},
                 {"body_contacts", r.body_contacts},
                 {"held_conflicts", r.held_conflicts},
                 {"gridlocks", r.gridlocks},
                 {"stuck_carts", r.stuck_carts},
                 {"helped", r.helped},
                 {"lead_time_s",
                  {{"mean", milli(r.lead_time_s.mean)},
                   {"p50", milli(r.lead_time_s.p50)},
                   {"p95", milli(r.lead_time_s.p95)},
                   {"max", milli(r.lead_time_s.max)}}},
                 {"share",
                  {{"loaded", r.share.loaded},
                   {"empty", r.share.empty},
                   {"waiting", r.share.waiting},
                   {"handling", r.share.handling},
                   {"charging", r.share.charging},
                   {"resting", r.share.resting}}},
                 {"distance_m", milli(r.distance_m)},
                 {"longest_wait_s", milli(r.longest_wait_s)},
                 {"least_gap_mm",
                  std::isfinite(r.least_gap_mm) ? ordered_json(milli(r.least_gap_mm)) : nullptr},
                 {"merges", merges},
                 {"events", r.events},
                 {"looks", r.looks},
                 {"simulated_s", milli(r.simulated_s)},
                 {"wall_s", report.wall_s}};
  if (!r.broken.empty()) j["broken"] = r.broken;
  return j;
}

ordered_json report_json(const floor::Floor& floor, const std::vector<RunReport>& runs) {
  std::uint64_t contacts = 0;
  std::uint64_t conflicts = 0;
  std::uint64_t gridlocks = 0;
  std::uint64_t stuck = 0;
  ordered_json each = ordered_json::array();
  for (const RunReport& run : runs) {
    contacts += run.result.body_contacts;
    conflicts += run.result.held_conflicts;
    gridlocks += run.result.gridlocks;
    stuck += run.result.stuck_carts;
    each.push_back(report_json(floor, run));
  }
  ordered_json estimates;
  for (const Measure& measure : measures) {
    const sim::Estimate e = measured(runs, measure);
    estimates[measure.name] = {{"mean", milli(e.mean)}, {"half_width_95", milli(e.half_width)}};
  }
  return {{"carts", runs.front().options.carts},
          {"hours", runs.front().options.hours},
          {"seed", runs.front().options.seed},
          {"runs", runs.size()},
          {"body_contacts", contacts},
          {"held_conflicts", conflicts},
          {"gridlocks", gridlocks},
          {"stuck_carts", stuck},
          {"bound_per_hour", bound_json(runs.front().bound_per_hour)},
          {"estimates", estimates},
          {"each", each}};
}

std::string report_text(const floor::Floor& floor, const RunReport& report) {
  const sim::FleetRunResult& r = report.result;
  std::string text =
      print("%s: %zu carts, %g h, seed %llu, %s\n", floor.name.c_str(), report.options.carts,
            report.options.hours, static_cast<unsigned long long>(report.options.seed),
            jobs_text(report.options).c_str());
  std::string deliveries = print(
      "%llu, %.1f per hour", static_cast<unsigned long long>(r.deliveries), r.deliveries_per_hour);
  if (report.bound_per_hour) {
    deliveries += print("; at most %.1f are possible (%.0f %% reached)", *report.bound_per_hour,
                        100 * r.deliveries_per_hour / *report.bound_per_hour);
  }
  text += line("deliveries", deliveries);
  text += line(
      "jobs",
      print("%llu asked for, %llu open at the end", static_cast<unsigned long long>(r.jobs_created),
            static_cast<unsigned long long>(r.jobs_open)) +
          (r.jobs_refused > 0 ? print(", %llu refused (too many open)",
                                      static_cast<unsigned long long>(r.jobs_refused))
                              : "") +
          (r.jobs_stranded > 0 ? print(", %llu stranded on a cart taken off",
                                       static_cast<unsigned long long>(r.jobs_stranded))
                               : ""));
  text += line("lead time", "mean " + time_text(r.lead_time_s.mean) + ", half within " +
                                time_text(r.lead_time_s.p50) + ", 95 % within " +
                                time_text(r.lead_time_s.p95) + ", longest " +
                                time_text(r.lead_time_s.max));
  text += line("cart time",
               print("loaded %.1f %%, empty %.1f %%, waiting %.1f %%, handling %.1f %%, charging "
                     "%.1f %%, resting %.1f %%",
                     100 * r.share.loaded, 100 * r.share.empty, 100 * r.share.waiting,
                     100 * r.share.handling, 100 * r.share.charging, 100 * r.share.resting));
  text += line("driven", print("%.1f km", r.distance_m / 1000));
  text += line("safety", safety_text(r));
  text += line("people", print("helped a cart %llu times; the longest wait for free track was ",
                               static_cast<unsigned long long>(r.helped)) +
                             time_text(r.longest_wait_s));
  std::vector<sim::MergeWaits> merges = r.merges;
  std::ranges::stable_sort(merges, std::ranges::greater{}, &sim::MergeWaits::seconds);
  std::string worst;
  for (std::size_t i = 0; i < merges.size() && i < 3 && merges[i].waits > 0; ++i) {
    worst += (worst.empty() ? "" : "; ") + floor[merges[i].point].id +
             print(" %llu times, ", static_cast<unsigned long long>(merges[i].waits)) +
             time_text(merges[i].seconds) + " in all";
  }
  text += line("waits at merges", worst.empty() ? "none" : worst);
  text += line("computed in", print("%.2f s, %.0f times real time, %llu events", report.wall_s,
                                    r.simulated_s / std::max(report.wall_s, 1e-9),
                                    static_cast<unsigned long long>(r.events)));
  if (!r.broken.empty()) text += line("BROKEN", r.broken);
  return text;
}

std::string report_text(const floor::Floor& floor, const std::vector<RunReport>& runs) {
  std::string text =
      print("%s: %zu carts, %g h, %zu runs from seed %llu on, %s\n", floor.name.c_str(),
            runs.front().options.carts, runs.front().options.hours, runs.size(),
            static_cast<unsigned long long>(runs.front().options.seed),
            jobs_text(runs.front().options).c_str());
  text += print("  %-22s %12s %28s\n", "", "mean", "95 % confidence interval");
  for (const Measure& measure : measures) {
    const sim::Estimate e = measured(runs, measure);
    text += print("  %-22s %12.3f %13.3f .. %11.3f\n", measure.name, e.mean, e.mean - e.half_width,
                  e.mean + e.half_width);
  }
  if (runs.front().bound_per_hour) {
    text += print("  %-22s %12.3f\n", "bound_per_hour", *runs.front().bound_per_hour);
  }
  sim::FleetRunResult all;
  for (const RunReport& run : runs) {
    all.body_contacts += run.result.body_contacts;
    all.held_conflicts += run.result.held_conflicts;
    all.gridlocks += run.result.gridlocks;
    all.stuck_carts += run.result.stuck_carts;
  }
  return text + "  " + safety_text(all) + "\n";
}

}  // namespace tagline::app
