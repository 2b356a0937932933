// Inspection: tape that is driven both ways: spurs too short for a body, two-way stretches before
// which nobody can wait.
#include <algorithm>
#include <map>
#include <numeric>
#include <set>

#include "server/floor/inspection_parts.hpp"

namespace tagline::floor {
namespace {

/// A cart at the end of the spur, and one that passes its mouth, clash.
std::optional<Mm> depth_if_too_short(const Track& track, PoseIx end) {
  const Ways& ways = track.ways();
  Mm depth{0};
  PoseIx mouth = end;
  while (ways[mouth].entry) {
    depth += track.floor()[ways[mouth].by].length;
    mouth = *ways[mouth].entry;
  }
  bool clash = track.clash(end, mouth);
  for (const Move& on : moves_on(ways, mouth)) {
    if (!ways[on.to].entry) clash = clash || track.clash(end, on.to);
  }
  if (!clash) return std::nullopt;
  return depth;
}

void inspect_spurs(const Track& track, std::vector<Finding>& findings) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  const auto places = places_of(floor);
  std::map<PointIx, Mm> found;
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    const PoseIx pose{p};
    if (!ways[pose].entry) continue;
    const bool deepest = moves_on(ways, pose).empty();
    const bool stops = std::ranges::find(places, ways[pose].at, &Place::point) != places.end();
    if (!deepest && !stops) continue;
    if (const auto depth = depth_if_too_short(track, pose)) {
      found.try_emplace(ways[pose].at, *depth);
    }
  }
  for (const auto& [point, depth] : found) {
    const Mm needed = floor.cart.length + floor.cart.clearance + stop_slack;
    const auto place = std::ranges::find(places, point, &Place::point);
    findings.push_back(
        {.severity = Severity::costs,
         .kind = "short-spur",
         .place = "spur to " + (place != places.end() ? describe(floor, *place) : floor[point].id),
         .at = floor[point].at,
         .figure = "It is " + text(depth) + " deep" +
                   (depth < needed
                        ? "; a cart at its end needs " + text(needed) +
                              " or more to leave its mouth free."
                        : ", but a cart at its end still lies too near to who passes its mouth."),
         .rule = "A cart at the end of a spur leaves its mouth free: depth of a body, its "
                 "clearance and " +
                 text(stop_slack) + " for stopping, and bodies apart by the clearance.",
         .source = "geometry of the bodies (floor file: cart); the slack is common practice, no "
                   "source",
         .remedy = "Lay the end of the spur further from the mouth, or at a wider angle."});
  }
}

/// Two-way tape that hangs together: its number per segment, none where it is one-way.
std::vector<std::optional<std::size_t>> stretches_of(const Floor& floor) {
  std::vector<std::size_t> root(floor.points.size());
  std::iota(root.begin(), root.end(), std::size_t{0});
  const auto find = [&](std::size_t p) {
    while (root[p] != p) p = root[p] = root[root[p]];
    return p;
  };
  for (const Segment& s : floor.segments) {
    if (s.two_way && !s.spur) root[find(s.from.value)] = find(s.to.value);
  }
  std::vector<std::optional<std::size_t>> stretch;
  for (const Segment& s : floor.segments) {
    stretch.push_back(s.two_way && !s.spur ? std::optional{find(s.from.value)} : std::nullopt);
  }
  return stretch;
}

struct End {
  std::vector<PoseIx> in;   // before the stretch, about to enter
  std::vector<PoseIx> out;  // coming out, and further on
};

void inspect_two_way(const Track& track, const std::vector<bool>& used,
                     std::vector<Finding>& findings) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  const auto stretch = stretches_of(floor);
  std::map<std::pair<std::size_t, PointIx>, End> ends;
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    const auto own = stretch[ways[PoseIx{p}].by.value];
    for (const Move& move : moves_on(ways, PoseIx{p})) {
      const auto next = stretch[move.segment.value];
      if (own == next || !used[p] || !used[move.to.value]) continue;
      if (next) ends[{*next, ways[PoseIx{p}].at}].in.push_back({p});
      if (own) {
        ends[{*own, ways[PoseIx{p}].at}].out.push_back({p});
        ends[{*own, ways[PoseIx{p}].at}].out.push_back(move.to);
      }
    }
  }
  for (const auto& [key, end] : ends) {
    if (end.in.empty() || end.out.empty()) continue;
    const PointIx point = key.second;
    std::vector<std::string> names;
    for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
      if (stretch[s] == key.first) names.push_back(floor.segments[s].id);
    }
    bool none = false;
    std::optional<WaitingPlace> at_fork;
    for (const PoseIx in : std::set<PoseIx>(end.in.begin(), end.in.end())) {
      const auto wait = last_wait_before(track, in, end.out, used);
      none = none || !wait;
      if (wait && wait->at_fork) at_fork = wait;
    }
    if (!none && !at_fork) continue;
    findings.push_back(
        {.severity = Severity::costs,
         .kind = "no-passing-place",
         .place = "end " + floor[point].id + " of the two-way stretch " + listed(names),
         .at = floor[point].at,
         .figure = none ? "Before it there are 0 tagged points at which a cart can wait clear of "
                          "one that comes out."
                        : "The last point to wait clear of who comes out is " +
                              floor[ways[at_fork->pose].at].id + ", " + text(at_fork->before) +
                              " before it, at or before a fork: who waits there keeps back those "
                              "who want to go elsewhere.",
         .rule = "At each end of two-way tape a cart can wait while another comes out.",
         .source = "geometry of the bodies (floor file: cart, conflicts)",
         .remedy = "Put a tag where a waiting cart is clear of the way out, and before which "
                   "nothing forks; a longer way in makes room for it."});
  }
}

}  // namespace

void inspect_stretches(const Track& track, const std::vector<bool>& used,
                       std::vector<Finding>& findings) {
  inspect_spurs(track, findings);
  inspect_two_way(track, used, findings);
}

}  // namespace tagline::floor
