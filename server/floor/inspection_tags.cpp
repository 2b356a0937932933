// Inspection: can the tags be read, and does each tell enough.
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "server/floor/drive_time.hpp"
#include "server/floor/inspection_parts.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::floor {
namespace {

/// A tag is seen from so far beside the tape a cart is on, mm: half the window and half the tag.
constexpr double seen_beside = 50;

MmPerS speed_on(const Floor& floor, const Segment& segment) {
  return std::min(segment.speed, floor.cart.speed);
}

Mm driven_in(Duration time, MmPerS speed) { return Mm{(speed.value * time.count() + 999) / 1000}; }

void inspect_missing(const Track& track, std::vector<Finding>& findings) {
  const Floor& floor = track.floor();
  const auto places = places_of(floor);
  std::set<PointIx> spur_ends;
  for (const Segment& segment : floor.segments) {
    if (segment.spur) spur_ends.insert(segment.to);
  }
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    const Point& point = floor.points[p];
    if (!point.tags.empty() || track.ways().poses_at({p}).empty()) continue;
    const auto place = std::ranges::find(places, PointIx{p}, &Place::point);
    const bool station = place != places.end() && !place->stations.empty();
    const bool must_halt = station || spur_ends.contains({p}) || point.turn_round;
    Finding finding{.severity = must_halt ? Severity::forbids : Severity::costs,
                    .kind = "no-tag",
                    .place = place != places.end() ? describe(floor, *place) : "point " + point.id,
                    .at = point.at,
                    .figure = "It has 0 tags. A cart that passes is not seen to.",
                    .rule = "Every point has at least one tag.",
                    .source =
                        "track is freed, and a stop confirmed, only by a tag read "
                        "(Tagline's rule I3)",
                    .remedy = "Put a tag there and enter its number in the floor file."};
    if (must_halt) {
      finding.figure = "It has 0 tags, and carts must come to a stand there.";
    } else if (point.siding) {
      finding.figure = "It has 0 tags, so no cart is ever sent there to rest.";
    }
    findings.push_back(std::move(finding));
  }
}

void inspect_speeds(const Floor& floor, std::vector<Finding>& findings) {
  const MmPerS most{reader_window.value * 1000 / reader_time.count()};
  std::map<MmPerS, std::vector<SegmentIx>> fast;
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const MmPerS speed = speed_on(floor, floor.segments[s]);
    if (speed > most) fast[speed].push_back({s});
  }
  for (const auto& [speed, segments] : fast) {
    std::vector<std::string> names;
    for (const SegmentIx s : segments) names.push_back(floor[s].id);
    const std::int64_t seen_ms = reader_window.value * 1000 / speed.value;
    findings.push_back(
        {.severity = Severity::costs,
         .kind = "too-fast-to-read",
         .place = (names.size() == 1 ? "segment " : "segments ") + listed(names),
         .at = floor[floor[segments.front()].to].at,
         .figure = "At " + std::to_string(speed.value) + " mm/s a tag is in sight for " +
                   std::to_string(seen_ms) + " ms.",
         .rule = "A tag is in sight for " + std::to_string(reader_time.count()) + " ms, so over " +
                 text(reader_window) + " of tape at most " + std::to_string(most.value) + " mm/s.",
         .source = no_source,
         .remedy = "Lower the speed there, or use readers of which you know that they are quicker "
                   "or see further."});
  }
}

void inspect_spacing(const Floor& floor, std::vector<Finding>& findings) {
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const Segment& segment = floor.segments[s];
    if (floor[segment.from].tags.empty() || floor[segment.to].tags.empty()) continue;
    const MmPerS speed = speed_on(floor, segment);
    const Mm to_read = reader_window + driven_in(reader_time, speed);
    const Mm to_stop = stop_slack + Mm{reader_window.value / 2};
    const Mm need = std::max(to_read, to_stop);
    if (segment.length >= need) continue;
    findings.push_back({.severity = Severity::costs,
                        .kind = "tags-too-close",
                        .place = "segment " + segment.id + ", " + floor[segment.from].id + " to " +
                                 floor[segment.to].id,
                        .at = middle_of(floor, {s}),
                        .figure = "The tags are " + text(segment.length) + " apart; needed are " +
                                  text(need) + " at " + std::to_string(speed.value) + " mm/s.",
                        .rule = "One tag is read before the next comes into sight, window " +
                                text(reader_window) + " and " +
                                std::to_string(reader_time.count()) +
                                " ms; and a cart that stops up to " + text(stop_slack) +
                                " beyond one doesn't see the next.",
                        .source = no_source,
                        .remedy = "Move the tags apart, or leave one of the two points out."});
  }
}

double distance_to_tape(const Polyline& tape, Position place) {
  double least = distance(tape.at(0).at, place);
  // Steps of 10 mm are out by less than a third of a mm at the 50 mm that matter.
  const auto steps = static_cast<int>(tape.length() / 10);
  for (int i = 1; i <= steps; ++i) least = std::min(least, distance(tape.at(10 * i).at, place));
  return std::min(least, distance(tape.at(tape.length()).at, place));
}

void inspect_foreign(const Floor& floor, std::vector<Finding>& findings) {
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const Segment& segment = floor.segments[s];
    Position low = floor[segment.from].at;
    Position high = low;
    const auto take = [&](Position p) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    };
    take(floor[segment.to].at);
    std::ranges::for_each(segment.via, take);
    std::optional<Polyline> tape;
    for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
      const Point& point = floor.points[p];
      if (segment.from == PointIx{p} || segment.to == PointIx{p} || point.tags.empty()) continue;
      if (point.at.x < low.x - seen_beside || point.at.x > high.x + seen_beside ||
          point.at.y < low.y - seen_beside || point.at.y > high.y + seen_beside) {
        continue;
      }
      if (!tape) tape = tape_of(floor, {s});
      const double apart = distance_to_tape(*tape, point.at);
      if (apart >= seen_beside) continue;
      findings.push_back(
          {.severity = Severity::forbids,
           .kind = "foreign-tag",
           .place = "point " + point.id + " beside segment " + segment.id,
           .at = point.at,
           .figure = "Its tag lies " + text(Mm{std::llround(apart)}) +
                     " from the tape of a segment that doesn't lead there.",
           .rule = "A tag is seen only from its own tape; others are " +
                   text(Mm{std::llround(seen_beside)}) +
                   " away or more, because a cart that reads a tag off its way stops in doubt.",
           .source = no_source,
           .remedy = "Move the tag or the tape, or let the segment end at this point and go on "
                     "with another."});
    }
  }
}

}  // namespace

void inspect_tags(const Track& track, std::vector<Finding>& findings) {
  inspect_missing(track, findings);
  inspect_speeds(track.floor(), findings);
  inspect_spacing(track.floor(), findings);
  inspect_foreign(track.floor(), findings);
}

}  // namespace tagline::floor
