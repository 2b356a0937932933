// Inspection: can carts wait before each merge and crossing without being in the way.
#include <algorithm>

#include "server/floor/inspection_parts.hpp"

namespace tagline::floor {
namespace {

constexpr const char* rule =
    "Before each merge and crossing there is a tagged point, with no fork between, at which a "
    "cart is clear of all others.";
constexpr const char* source = "geometry of the bodies, swept, with clearance (floor file: cart)";

std::string foul_text(const Approach& approach) {
  if (!approach.foul) return "Bodies foul each other all along";
  return "Bodies begin to foul each other " + text(*approach.foul) + " before it";
}

void inspect_approach(const Track& track, const std::string& what, Position at,
                      const Approach& approach, std::vector<Finding>& findings) {
  const Floor& floor = track.floor();
  const Ways& ways = track.ways();
  if (approach.wait && !approach.wait->at_fork) return;
  Finding finding{.severity = Severity::costs,
                  .kind = approach.wait ? "wait-at-fork" : "no-waiting-place",
                  .place = what + ", coming by " + floor[ways[approach.pose].by].id,
                  .at = at,
                  .figure = foul_text(approach),
                  .rule = rule,
                  .source = source,
                  .remedy =
                      "Put a tag on the way in, further back than the fouling begins and "
                      "behind the last fork, or lay the tape so that there is room for one."};
  if (approach.wait) {
    const PointIx point = ways[approach.wait->pose].at;
    finding.figure += "; the last point clear of it is " + floor[point].id + ", " +
                      text(approach.wait->before) +
                      " before it, at or before a fork: who waits there keeps back those who want "
                      "to go elsewhere.";
  } else {
    finding.figure += "; 0 tagged points on the way in are clear of it.";
  }
  findings.push_back(std::move(finding));
}

}  // namespace

void inspect_merges(const Track& track, const std::vector<bool>& used,
                    const std::vector<Merge>& merges, const std::vector<Crossing>& crossings,
                    std::vector<Finding>& findings) {
  const Floor& floor = track.floor();
  for (const Merge& merge : merges) {
    for (const Approach& approach : merge.approaches) {
      if (!used[approach.pose.value]) continue;
      inspect_approach(track, "merge " + floor[merge.point].id, floor[merge.point].at, approach,
                       findings);
    }
  }
  for (const Crossing& crossing : crossings) {
    for (const Approach& approach : crossing.approaches) {
      if (!used[approach.pose.value]) continue;
      inspect_approach(
          track, "crossing of " + floor[crossing.first].id + " and " + floor[crossing.second].id,
          crossing.at, approach, findings);
    }
  }
}

}  // namespace tagline::floor
