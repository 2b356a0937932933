// Inspection: can every place be reached and left, and is all tape of use.
#include <algorithm>

#include "server/floor/inspection_parts.hpp"

namespace tagline::floor {
namespace {

constexpr const char* reachability =
    "reachability in the graph of ways, strongly connected components (Tarjan 1972)";

/// Places from which no way leads to `place`, or to which none leads from it.
std::vector<std::string> cut_off(const Track& track, const std::vector<Place>& places,
                                 const Place& place, bool from) {
  const Ways& ways = track.ways();
  std::vector<bool> own(ways.pose_count());
  for (const PoseIx pose : ways.poses_at(place.point)) own[pose.value] = true;
  const auto joined = from ? leading_to(ways, own) : reached_from(ways, own);
  std::vector<std::string> names;
  for (const Place& other : places) {
    if (other.point == place.point || any_of_place(ways, other, joined)) continue;
    names.push_back(short_name(track.floor(), other));
  }
  return names;
}

void inspect_place(const Track& track, const std::vector<Place>& places, const Place& place,
                   const std::vector<bool>& main, std::vector<Finding>& findings) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  if (any_of_place(ways, place, main)) return;
  Finding finding;
  finding.severity = place.stations.empty() ? Severity::costs : Severity::forbids;
  finding.place = describe(floor, place);
  finding.at = floor[place.point].at;
  finding.source = reachability;
  const std::string all = std::to_string(places.size() - 1) + " other stations and sidings";
  const bool entered = any_of_place(ways, place, reached_from(ways, main));
  const bool left = any_of_place(ways, place, leading_to(ways, main));
  if (!entered) {
    const auto names = cut_off(track, places, place, true);
    finding.kind = "unreachable";
    finding.figure = "No way leads there from " + std::to_string(names.size()) + " of the " + all +
                     (names.empty() ? "." : ": " + listed(names) + ".");
    if (ways.poses_at(place.point).empty()) finding.figure = "No segment leads there at all.";
    finding.rule = "Every station and siding can be reached from every other.";
    finding.remedy =
        "Lay tape to it, or turn round or make two-way the segment that only leads away.";
    findings.push_back(finding);
  }
  if (!left && (entered || !ways.poses_at(place.point).empty())) {
    const auto names = cut_off(track, places, place, false);
    finding.severity = Severity::forbids;  // a cart that goes there is caught
    finding.kind = "no-return";
    finding.figure = "From there no way leads to " + std::to_string(names.size()) + " of the " +
                     all + ": " + listed(names) + ".";
    finding.rule = "A cart that goes to a station or siding can leave it again for every other.";
    finding.remedy =
        "Lay tape on from it, make its segment a spur (the cart backs out), or let carts turn "
        "round there.";
    if (!names.empty()) findings.push_back(finding);
  }
}

}  // namespace

void inspect_ways(const Track& track, std::vector<Finding>& findings) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  const auto places = places_of(floor);
  const auto main = main_set(ways, places, [](PoseIx) { return true; });
  for (const Place& place : places) inspect_place(track, places, place, main, findings);

  std::vector<bool> used(floor.segments.size());
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    for (const Move& move : ways.moves_from(PoseIx{p})) {
      if (main[p] && main[move.to.value]) used[move.segment.value] = true;
    }
  }
  for (std::uint32_t s = 0; s < used.size(); ++s) {
    if (used[s]) continue;
    const Segment& segment = floor.segments[s];
    findings.push_back({.severity = Severity::note,
                        .kind = "unused",
                        .place = "segment " + segment.id + ", " + floor[segment.from].id + " to " +
                                 floor[segment.to].id,
                        .at = middle_of(floor, {s}),
                        .figure = text(segment.length) + " of tape that no way from a station or "
                                                         "siding to another leads over.",
                        .rule = "Every segment lies on a way between two places.",
                        .source = reachability,
                        .remedy = "Take it out of the floor file, or join it to the rest."});
  }
}

}  // namespace tagline::floor
