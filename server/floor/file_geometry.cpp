// Third pass over a floor file: lines that lead nowhere, lengths no tape can have, speeds no cart
// of the fleet has.
#include <cmath>
#include <cstdint>

#include "server/floor/file_draft.hpp"
#include "server/floor/file_limits.hpp"

namespace tagline::floor {
namespace {

double distance(Position a, Position b) { return std::hypot(b.x - a.x, b.y - a.y); }

std::string mm(double value) {
  return std::to_string(static_cast<std::int64_t>(std::llround(value))) + " mm";
}

/// Length of the line start, via, end; a finding for each place that is the same as the one before.
double measure_line(const DraftSegment& segment, const std::string& pointer, Position start,
                    Position end, Findings& findings) {
  double length = 0;
  Position last = start;
  for (std::size_t k = 0; k < segment.via.size(); ++k) {
    const double leg = distance(last, segment.via[k]);
    if (leg < limits::same_place_mm) {
      findings.add(below(pointer + "/via", k),
                   k == 0 ? "the same place as point " + in_quotes(*segment.from)
                          : "the same place as the one before",
                   "take it away");
    }
    length += leg;
    last = segment.via[k];
  }
  const double leg = distance(last, end);
  if (leg < limits::same_place_mm) {
    if (segment.via.empty()) {
      findings.add(pointer,
                   "its line has no length: points " + in_quotes(*segment.from) + " and " +
                       in_quotes(*segment.to) + " are the same place",
                   "put right the place of one of the points");
    } else {
      findings.add(below(pointer + "/via", segment.via.size() - 1),
                   "the same place as point " + in_quotes(*segment.to), "take it away");
    }
  }
  return length + leg;
}

/// Driven length, and a finding where it is impossible.
Mm driven_length(const DraftSegment& segment, const std::string& pointer, Position start,
                 Position end, Findings& findings) {
  const bool knows_line = !segment.bad_via;
  const double line = knows_line ? measure_line(segment, pointer, start, end, findings) : 0;
  if (segment.length) {
    const double straight = distance(start, end);
    const double slack = limits::length_slack_mm + limits::length_slack_share * straight;
    if (*segment.length < straight - slack) {
      findings.add(pointer + "/length",
                   number_text(*segment.length) + " mm is shorter than the straight way of " +
                       mm(straight) + " from " + in_quotes(*segment.from) + " to " +
                       in_quotes(*segment.to),
                   "measure again, or leave it out: the line is " +
                       (knows_line ? mm(line) : std::string("taken")) + " then");
    }
    return {std::llround(*segment.length)};
  }
  if (knows_line && line > limits::segment_mm) {
    findings.add(pointer, "its line is " + mm(line) + " long",
                 "put points with tags between: a segment has at most " + mm(limits::segment_mm));
  }
  return {std::llround(line)};
}

}  // namespace

std::vector<Mm> check_geometry(const Draft& draft, const Resolved& resolved, Findings& findings) {
  std::vector<Mm> lengths(draft.segments.size());
  for (std::size_t s = 0; s < draft.segments.size(); ++s) {
    const DraftSegment& segment = draft.segments[s];
    const std::string pointer = below("/segments", s);
    if (segment.speed && draft.cart_speed_known && *segment.speed > draft.cart.speed) {
      findings.add(pointer + "/speed",
                   std::to_string(segment.speed->value) + " mm/s is above the carts' own " +
                       std::to_string(draft.cart.speed.value) + " mm/s (/cart/speed)",
                   "give at most that, or leave it out");
    }
    const Ends& ends = resolved.segments[s];
    if (!ends.from || !ends.to || ends.from == ends.to || segment.bad_length) continue;
    const auto& start = draft.points[ends.from->value].at;
    const auto& end = draft.points[ends.to->value].at;
    if (start && end) lengths[s] = driven_length(segment, pointer, *start, *end, findings);
  }
  return lengths;
}

}  // namespace tagline::floor
