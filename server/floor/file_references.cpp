// Second pass over a floor file: ids and tags given twice, references to nothing, pairs that make
// no sense, spurs that are no dead ends.
#include <algorithm>
#include <cstdint>
#include <unordered_map>
#include <utility>

#include "server/floor/file_draft.hpp"

namespace tagline::floor {
namespace {

/// Ids of one kind ("point") and where each was first given.
class Names {
 public:
  /// `listed`: the file has a usable list of them, so that a reference can dangle.
  Names(std::string_view kind, std::string_view list, bool listed, Findings& findings)
      : kind_(kind), list_(list), listed_(listed), findings_(findings) {}

  template <class Item>
  void add_all(const std::vector<Item>& items) {
    for (std::size_t k = 0; k < items.size(); ++k) {
      if (!items[k].id) continue;
      const auto [known, is_new] = index_.emplace(*items[k].id, static_cast<std::uint32_t>(k));
      if (is_new) continue;
      findings_.add(
          pointer(k) + "/id",
          "id " + in_quotes(*items[k].id) + " is used already by " + pointer(known->second),
          "give each " + kind_ + " an id of its own");
    }
    for (const Item& item : items) {
      if (!item.id) continue;
      if (example_.empty()) example_ = *item.id;
      any_case_.emplace(in_lower_case(*item.id), *item.id);
    }
  }

  /// Nothing, and a finding where the reference names nothing.
  template <class Ix>
  std::optional<Ix> find(const Reference& reference, const std::string& at) const {
    if (!reference) return std::nullopt;
    if (const auto known = index_.find(*reference); known != index_.end()) {
      return Ix{known->second};
    }
    if (!listed_) return std::nullopt;
    const std::string alike = similar_to(*reference);
    const std::string right = alike.empty()
                                  ? "describe it under /" + list_
                                  : "name one of the " + list_ + ", e.g. " + in_quotes(alike);
    findings_.add(at, "no " + kind_ + " " + in_quotes(*reference), right);
    return std::nullopt;
  }

  [[nodiscard]] std::string pointer(std::size_t index) const { return below("/" + list_, index); }

 private:
  static std::string in_lower_case(std::string text) {
    for (char& c : text) {
      if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return text;
  }

  /// The id that differs only in case, else the first of the list.
  std::string similar_to(const std::string& id) const {
    const auto alike = any_case_.find(in_lower_case(id));
    return alike == any_case_.end() ? example_ : alike->second;
  }

  std::string kind_, list_, example_;
  bool listed_;
  std::unordered_map<std::string, std::uint32_t> index_;
  std::unordered_map<std::string, std::string> any_case_;  // lower case -> first such id
  Findings& findings_;
};

void check_tags(const Draft& draft, Findings& findings) {
  std::unordered_map<std::string, std::string> first_use;  // tag -> pointer of its point
  for (std::size_t p = 0; p < draft.points.size(); ++p) {
    const std::string point = below("/points", p);
    const auto& tags = draft.points[p].tags;
    for (std::size_t t = 0; t < tags.size(); ++t) {
      if (tags[t].empty()) continue;  // a finding of the schema pass
      const auto [first, is_new] = first_use.emplace(tags[t], point);
      if (is_new) continue;
      findings.add(below(point + "/tags", t),
                   "tag " + in_quotes(tags[t]) + " marks " + first->second + " already",
                   "a tag lies in one place: name it once on the floor (upper and lower case are "
                   "the same)");
    }
  }
}

std::vector<Ends> resolve_segments(const Draft& draft, const Names& points, Findings& findings) {
  std::vector<Ends> all;
  all.reserve(draft.segments.size());
  for (std::size_t s = 0; s < draft.segments.size(); ++s) {
    const DraftSegment& segment = draft.segments[s];
    const std::string pointer = below("/segments", s);
    const Ends ends{points.find<PointIx>(segment.from, pointer + "/from"),
                    points.find<PointIx>(segment.to, pointer + "/to")};
    if (segment.from && segment.from == segment.to) {
      findings.add(pointer + "/to", "the segment leads back to its start " + in_quotes(*segment.to),
                   "give another point; a loop needs points between");
    }
    all.push_back(ends);
  }
  return all;
}

/// Only spurs may leave the end of a spur: a cart that drives on from there does not back out, and
/// the track behind it would be freed in the wrong order.
void check_spur_ends(const Draft& draft, const std::vector<Ends>& ends, Findings& findings) {
  std::unordered_map<std::uint32_t, std::size_t> way_on;  // point -> a segment that leaves it
  for (std::size_t s = 0; s < ends.size(); ++s) {
    if (draft.segments[s].spur) continue;
    if (ends[s].from) way_on.emplace(ends[s].from->value, s);
    if (ends[s].to && draft.segments[s].two_way) way_on.emplace(ends[s].to->value, s);
  }
  for (std::size_t s = 0; s < ends.size(); ++s) {
    if (!draft.segments[s].spur || !ends[s].to) continue;
    const auto leaving = way_on.find(ends[s].to->value);
    if (leaving == way_on.end()) continue;
    const Reference& id = draft.segments[leaving->second].id;
    findings.add(below("/segments", s) + "/spur",
                 "its end " + in_quotes(*draft.segments[s].to) + " is no dead end: " +
                     (id ? "segment " + in_quotes(*id) : below("/segments", leaving->second)) +
                     " leaves it",
                 "a spur ends where no other way leads on: take away \"spur\" or that way");
  }
}

/// Pairs seen so far; says where the same pair was given before.
class Pairs {
 public:
  std::optional<std::size_t> seen(std::pair<std::uint32_t, std::uint32_t> pair, std::size_t at) {
    const std::uint64_t key = (std::uint64_t{pair.first} << 32U) | pair.second;
    const auto [first, is_new] = first_.emplace(key, at);
    return is_new ? std::nullopt : std::optional(first->second);
  }

 private:
  std::unordered_map<std::uint64_t, std::size_t> first_;
};

void resolve_conflicts(const Draft& draft, const Names& segments, Resolved& resolved,
                       Findings& findings) {
  Pairs pairs;
  for (std::size_t k = 0; k < draft.conflicts.size(); ++k) {
    const std::string pointer = below("/conflicts", k);
    const auto a = segments.find<SegmentIx>(draft.conflicts[k].first, pointer + "/0");
    const auto b = segments.find<SegmentIx>(draft.conflicts[k].second, pointer + "/1");
    if (draft.conflicts[k].first && draft.conflicts[k].first == draft.conflicts[k].second) {
      findings.add(pointer, "the same segment " + in_quotes(*draft.conflicts[k].first) + " twice",
                   "name two segments; one segment is never used by two carts anyway");
    } else if (a && b) {
      if (const auto first = pairs.seen(std::minmax(a->value, b->value), k)) {
        findings.add(pointer, "the same pair as " + below("/conflicts", *first),
                     "name each pair once");
      }
      resolved.conflicts.emplace_back(*a, *b);
    }
  }
}

void resolve_demand(const Draft& draft, const Names& stations, Resolved& resolved,
                    Findings& findings) {
  Pairs pairs;
  for (std::size_t k = 0; k < draft.demand.size(); ++k) {
    const DraftDemand& flow = draft.demand[k];
    const std::string pointer = below("/demand", k);
    const auto from = stations.find<StationIx>(flow.from, pointer + "/from");
    const auto to = stations.find<StationIx>(flow.to, pointer + "/to");
    if (flow.from && flow.from == flow.to) {
      findings.add(pointer + "/to", "the flow goes from " + in_quotes(*flow.to) + " to itself",
                   "name another station");
    } else if (from && to) {
      if (const auto first = pairs.seen({from->value, to->value}, k)) {
        findings.add(pointer, "the same two stations as " + below("/demand", *first),
                     "give one flow with the sum of both");
      }
      resolved.demand.push_back({*from, *to, flow.per_hour});
    }
  }
}

void resolve_zones(const Draft& draft, const Names& segments, Resolved& resolved,
                   Findings& findings) {
  for (std::size_t z = 0; z < draft.zones.size(); ++z) {
    auto& zone = resolved.zones.emplace_back();
    std::unordered_map<std::uint32_t, std::size_t> first_use;
    for (std::size_t k = 0; k < draft.zones[z].segments.size(); ++k) {
      const std::string pointer = below(below("/zones", z) + "/segments", k);
      const auto segment = segments.find<SegmentIx>(draft.zones[z].segments[k], pointer);
      if (!segment) continue;
      if (!first_use.emplace(segment->value, k).second) {
        findings.add(pointer, "segment " + in_quotes(*draft.zones[z].segments[k]) + " twice",
                     "name each segment of a zone once");
      }
      zone.push_back(*segment);
    }
  }
}

}  // namespace

Resolved resolve(const Draft& draft, Findings& findings) {
  Names points("point", "points", draft.points_listed, findings);
  Names segments("segment", "segments", draft.segments_listed, findings);
  Names stations("station", "stations", draft.stations_listed, findings);
  Names chargers("charger", "chargers", true, findings);
  Names zones("zone", "zones", true, findings);
  points.add_all(draft.points);
  segments.add_all(draft.segments);
  stations.add_all(draft.stations);
  chargers.add_all(draft.chargers);
  zones.add_all(draft.zones);
  check_tags(draft, findings);

  Resolved resolved;
  resolved.segments = resolve_segments(draft, points, findings);
  check_spur_ends(draft, resolved.segments, findings);
  for (std::size_t k = 0; k < draft.stations.size(); ++k) {
    resolved.stations.push_back(
        points.find<PointIx>(draft.stations[k].point, stations.pointer(k) + "/point"));
  }
  for (std::size_t k = 0; k < draft.chargers.size(); ++k) {
    resolved.chargers.push_back(
        points.find<PointIx>(draft.chargers[k].point, chargers.pointer(k) + "/point"));
  }
  resolve_conflicts(draft, segments, resolved, findings);
  resolve_demand(draft, stations, resolved, findings);
  resolve_zones(draft, segments, resolved, findings);
  return resolved;
}

}  // namespace tagline::floor
