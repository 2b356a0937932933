// See inspection.hpp: the order of the parts, and what they share.
#include "server/floor/inspection.hpp"

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/strong_components.hpp>
#include <cmath>
#include <map>
#include <set>

#include "server/floor/inspection_parts.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::floor {
namespace {

std::vector<bool> spread(const Ways& ways, std::vector<bool> from, bool forward) {
  std::vector<PoseIx> open;
  for (std::uint32_t p = 0; p < from.size(); ++p) {
    if (from[p]) open.push_back({p});
  }
  while (!open.empty()) {
    const PoseIx pose = open.back();
    open.pop_back();
    for (const Move& move : forward ? ways.moves_from(pose) : ways.moves_to(pose)) {
      const PoseIx next = forward ? move.to : move.from;
      if (from[next.value]) continue;
      from[next.value] = true;
      open.push_back(next);
    }
  }
  return from;
}

}  // namespace

Inspection inspect(const Track& track) {
  Inspection result;
  const auto used = main_set(track.ways(), places_of(track.floor()), [](PoseIx) { return true; });
  result.merges = find_merges(track, used);
  result.crossings = find_crossings(track, used);
  inspect_ways(track, result.findings);
  inspect_tags(track, result.findings);
  inspect_forks(track, used, result.findings);
  inspect_rests(track, result.findings);
  inspect_stretches(track, used, result.findings);
  inspect_merges(track, used, result.merges, result.crossings, result.findings);
  std::ranges::stable_sort(result.findings, {}, &Finding::severity);
  return result;
}

std::string_view name_of(Severity severity) {
  switch (severity) {
    case Severity::forbids:
      return "forbids";
    case Severity::costs:
      return "costs";
    case Severity::note:
      break;
  }
  return "note";
}

std::vector<Place> places_of(const Floor& floor) {
  std::map<PointIx, Place> places;
  const auto at = [&](PointIx point) -> Place& {
    return places.try_emplace(point, Place{point, {}, false, false}).first->second;
  };
  for (std::uint32_t s = 0; s < floor.stations.size(); ++s) {
    at(floor.stations[s].point).stations.push_back({s});
  }
  for (const Charger& charger : floor.chargers) at(charger.point).charger = true;
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    if (floor.points[p].siding) at(PointIx{p}).siding = true;
  }
  std::vector<Place> result;
  for (auto& [point, place] : places) result.push_back(std::move(place));
  return result;
}

std::string describe(const Floor& floor, const Place& place) {
  const std::string& point = floor[place.point].id;
  if (!place.stations.empty()) {
    std::vector<std::string> names;
    for (const StationIx station : place.stations) {
      const Station& s = floor[station];
      names.push_back(s.name == s.id ? s.id : s.id + " (" + s.name + ")");
    }
    return (names.size() == 1 ? "station " : "stations ") + listed(names) + " at " + point;
  }
  if (place.siding) return "siding " + point;
  for (const Charger& charger : floor.chargers) {
    if (charger.point == place.point) return "charger " + charger.id + " at " + point;
  }
  return point;
}

std::string short_name(const Floor& floor, const Place& place) {
  return place.stations.empty() ? floor[place.point].id : floor[place.stations.front()].id;
}

std::vector<bool> main_set(const Ways& ways, const std::vector<Place>& places,
                           const std::function<bool(PoseIx)>& open) {
  using Graph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS>;
  Graph graph(ways.pose_count());
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    if (!open(PoseIx{p})) continue;
    for (const Move& move : ways.moves_from(PoseIx{p})) {
      if (open(move.to)) boost::add_edge(p, move.to.value, graph);
    }
  }
  std::vector<int> component(ways.pose_count());
  boost::strong_components(graph, boost::make_iterator_property_map(
                                      component.begin(), boost::get(boost::vertex_index, graph)));
  // Places first; of sets with equally many, the one with more poses.
  std::map<int, std::pair<std::size_t, std::size_t>> sizes;
  for (const Place& place : places) {
    std::set<int> here;
    for (const PoseIx pose : ways.poses_at(place.point)) {
      if (open(pose)) here.insert(component[pose.value]);
    }
    for (const int c : here) ++sizes[c].first;
  }
  for (std::uint32_t p = 0; p < component.size(); ++p) {
    if (open(PoseIx{p})) ++sizes[component[p]].second;
  }
  const auto best =
      std::ranges::max_element(sizes, {}, [](const auto& entry) { return entry.second; });
  std::vector<bool> result(component.size());
  for (std::uint32_t p = 0; p < component.size(); ++p) {
    result[p] = best != sizes.end() && open(PoseIx{p}) && component[p] == best->first;
  }
  return result;
}

bool any_of_place(const Ways& ways, const Place& place, const std::vector<bool>& poses) {
  return std::ranges::any_of(ways.poses_at(place.point),
                             [&](PoseIx pose) { return poses[pose.value]; });
}

std::vector<bool> reached_from(const Ways& ways, const std::vector<bool>& from) {
  return spread(ways, from, true);
}

std::vector<bool> leading_to(const Ways& ways, const std::vector<bool>& to) {
  return spread(ways, to, false);
}

std::string text(Mm length) {
  if (length < Mm{10'000}) return std::to_string(length.value) + " mm";
  const auto tenths = (length.value + 50) / 100;
  return std::to_string(tenths / 10) + "." + std::to_string(tenths % 10) + " m";
}

std::string listed(const std::vector<std::string>& names, std::size_t most) {
  const std::size_t shown = names.size() <= most + 1 ? names.size() : most;
  const std::size_t left = names.size() - shown;
  std::string result;
  for (std::size_t i = 0; i < shown; ++i) {
    const bool last = i + 1 == shown && left == 0;
    if (i > 0) result += last ? " and " : ", ";
    result += names[i];
  }
  if (left > 0) result += " and " + std::to_string(left) + " more";
  return result;
}

std::string counted(std::size_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

Position middle_of(const Floor& floor, SegmentIx segment) {
  const Polyline tape = tape_of(floor, segment);
  return tape.at(tape.length() / 2).at;
}

}  // namespace tagline::floor
