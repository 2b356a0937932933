// See check_result.hpp: the inspection of the tape, and what carts and demand add to it.
#include "server/app/check_result.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <stdexcept>

#include "server/floor/polyline.hpp"

namespace tagline::app {
namespace {

using floor::Finding;
using floor::Severity;

std::string tenths(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

std::string carts_text(std::size_t carts) {
  return std::to_string(carts) + (carts == 1 ? " cart" : " carts");
}

floor::Position middle_of(const floor::Floor& floor) {
  floor::Position low = floor.points.front().at;
  floor::Position high = low;
  for (const floor::Point& point : floor.points) {
    low = {std::min(low.x, point.at.x), std::min(low.y, point.at.y)};
    high = {std::max(high.x, point.at.x), std::max(high.y, point.at.y)};
  }
  return {(low.x + high.x) / 2, (low.y + high.y) / 2};
}

void work_out_bound(const floor::Track& track, CheckResult& result) {
  const auto flows = dispatch::flows_of(track.floor());
  try {
    result.bound = dispatch::throughput_bound(track, flows, 1);
  } catch (const std::invalid_argument& error) {
    result.no_bound = error.what();
    return;
  }
  if (result.demand_per_hour > 0) {
    const double needed = result.demand_per_hour / result.bound->fleet_per_hour;
    result.carts_for_demand =
        std::max<std::size_t>(1, static_cast<std::size_t>(std::ceil(std::max(0.0, needed - 1e-9))));
  }
}

/// One of the sidings that carts are sent to rest on.
bool rested_on(const floor::Track& track, const traffic::LiveLimit& limit, floor::Position place) {
  return std::ranges::any_of(limit.rests, [&](PoseIx rest) {
    return floor::distance(track.floor()[track.ways()[rest].at].at, place) <= 0;
  });
}

/// The tape alone can't tell whether a siding that is none locks a cart in: that depends on who is
/// sent there to rest, and so on how many carts there are.
void weigh_sidings(const floor::Track& track, CheckResult& result) {
  for (Finding& finding : result.inspection.findings) {
    if (finding.kind != "no-siding" || finding.severity != Severity::forbids) continue;
    finding.severity = Severity::costs;
    finding.figure += " With " + carts_text(result.carts) + " the floor stays live all the same: ";
    if (result.must_move_on()) {
      finding.figure += "idle carts move on ahead of working ones.";
    } else if (rested_on(track, result.limit, finding.at)) {
      finding.figure += "every station can still be served.";
    } else {
      finding.figure += "no cart is sent there to rest.";
    }
  }
}

void tell_moving_on(const floor::Track& track, CheckResult& result) {
  const std::size_t rests = result.limit.rests.size();
  result.inspection.findings.push_back(
      {.severity = Severity::costs,
       .kind = "moving-on",
       .place = std::string(whole_floor),
       .at = middle_of(track.floor()),
       .figure = carts_text(result.carts) + ", and " +
                 (rests == 0   ? std::string("no siding")
                  : rests == 1 ? std::string("only 1 siding")
                               : "only " + std::to_string(rests) + " sidings") +
                 " to rest on: an idle cart stays on the way and must move on ahead of working "
                 "ones, which wait for it.",
       .rule = "Each cart has a siding of its own to come to rest on.",
       .source = "well-formed infrastructure (Cap, Novak, Kleiner, Selecky 2015)",
       .remedy = "Carts may run like this. A siding for each of them would be better: a tagged "
                 "point beside the ways, with tape in and out."});
}

void inspect_carts(const floor::Track& track, CheckResult& result) {
  if (result.limit.carts > 0 && result.carts <= result.limit.carts) {
    weigh_sidings(track, result);
    if (result.must_move_on()) tell_moving_on(track, result);
    return;
  }
  const bool none = result.limit.carts == 0;
  const bool by_moving_on = result.limit.carts > result.limit.rests.size();
  result.inspection.findings.push_back(
      {.severity = Severity::forbids,
       .kind = "too-many-carts",
       .place = std::string(whole_floor),
       .at = middle_of(track.floor()),
       .figure = (none ? std::string("It stays live with no cart at all: ")
                       : carts_text(result.carts) + " asked for; it stays live with " +
                             std::to_string(result.limit.carts) + ": ") +
                 result.limit.reason,
       .rule = "Whatever jobs come, every cart can reach its stops and then come to rest again "
               "where it keeps no other from theirs.",
       .source = "deadlock avoidance by keeping to safe states (Dijkstra 1965; Reveliotis 2000)",
       .remedy = none ? "Lay a siding: a tagged point beside the ways, with tape in and out."
                 : by_moving_on ? "Run no more carts than that, or lay a siding for each cart."
                                : "Run no more carts than that, or lay another siding."});
}

void inspect_demand(const floor::Track& track, CheckResult& result) {
  if (!result.bound || result.demand_per_hour <= result.bound->per_hour) return;
  const dispatch::Throughput& bound = *result.bound;
  const bool track_binds = bound.track_per_hour < bound.fleet_per_hour;
  Finding finding{.severity = Severity::costs,
                  .kind = "demand-too-high",
                  .place = std::string(whole_floor),
                  .at = middle_of(track.floor()),
                  .figure = "The demand is " + tenths(result.demand_per_hour) +
                            " deliveries an hour; with " + carts_text(result.carts) + " at most " +
                            tenths(bound.per_hour) + " are possible.",
                  .rule =
                      "Deliveries an hour are at most 3600 s x carts / (handling + loaded + "
                      "least empty travel), and at most 3600 s / what each needs of the "
                      "busiest track.",
                  .source = "Maxwell and Muckstadt 1982; bottleneck bound",
                  .remedy = "Run more carts, or lay shorter ways."};
  if (track_binds && bound.busiest) {
    finding.place = "the track around " + track.name(*bound.busiest);
    if (track.is_point(*bound.busiest)) {
      finding.at = track.floor().points[bound.busiest->value].at;
    }
    finding.figure += " Each occupies this track for " + tenths(bound.busiest_s) + " s.";
    finding.remedy =
        "Relieve this track: a second way past it, stations on tape of their own, shorter "
        "handling. More carts won't help.";
  }
  result.inspection.findings.push_back(std::move(finding));
}

}  // namespace

std::size_t CheckResult::count(Severity severity) const {
  return static_cast<std::size_t>(
      std::ranges::count(inspection.findings, severity, &Finding::severity));
}

CheckResult check_floor(const floor::Track& track, std::optional<std::size_t> carts) {
  CheckResult result;
  result.inspection = floor::inspect(track);
  result.limit = traffic::live_limit(track);
  for (const floor::Demand& demand : track.floor().demand) {
    result.demand_per_hour += demand.per_hour;
  }
  work_out_bound(track, result);
  result.carts_given = carts.has_value();
  result.carts = carts ? *carts
                       : std::max<std::size_t>(
                             1, std::min(result.limit.carts,
                                         result.carts_for_demand.value_or(result.limit.carts)));
  if (result.bound) {
    // Worked out for one cart above; only the fleet bound depends on how many there are.
    result.bound->fleet_per_hour *= static_cast<double>(result.carts);
    result.bound->per_hour = std::min(result.bound->fleet_per_hour, result.bound->track_per_hour);
  }
  inspect_carts(track, result);
  inspect_demand(track, result);
  std::ranges::stable_sort(result.inspection.findings, {}, &Finding::severity);
  return result;
}

}  // namespace tagline::app
