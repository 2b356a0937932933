// The canonical text of a floor and the comparison of two.
#include "server/store/floor_text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <iterator>
#include <map>
#include <vector>

namespace tagline::store {
namespace {

using Lines = std::vector<std::string>;

std::string number(double value) {
  std::array<char, 32> text{};
  // + 0.0 turns -0.0 into 0.0; the shortest form reads back to the same double on any machine.
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value + 0.0).ptr;
  return {text.data(), end};
}

std::string number(std::int64_t value) { return std::to_string(value); }

std::string flag(bool set, std::string_view word) {
  return set ? " " + std::string(word) : std::string();
}

std::string line_of(const floor::Floor& floor, const floor::Segment& segment) {
  std::string line = "segment " + segment.id + " " + floor[segment.from].id + " " +
                     floor[segment.to].id + " " + number(segment.length.value) +
                     flag(segment.two_way, "two_way") + flag(segment.spur, "spur");
  for (const floor::Position& via : segment.via) line += " " + number(via.x) + "," + number(via.y);
  if (segment.turn) line += " turn " + std::to_string(static_cast<int>(*segment.turn));
  return line;
}

std::string joined(Lines lines) {
  std::sort(lines.begin(), lines.end());
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

Lines split(std::string_view text) {
  Lines lines;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    lines.emplace_back(text.substr(0, end));
    text = end == std::string_view::npos ? std::string_view{} : text.substr(end + 1);
  }
  return lines;
}

std::map<std::string, std::string> points_by_tag(std::string_view text) {
  std::map<std::string, std::string> points;
  for (const std::string& line : split(text)) {
    const std::size_t blank = line.find(' ');
    if (blank != std::string::npos) points[line.substr(0, blank)] = line.substr(blank + 1);
  }
  return points;
}

}  // namespace

std::string floor_text(const floor::Floor& floor) {
  Lines lines;
  const floor::CartBody& cart = floor.cart;
  lines.push_back("cart " + number(cart.length.value) + " " + number(cart.width.value) + " " +
                  number(cart.reader_to_nose.value) + " " + number(cart.clearance.value));
  for (const floor::Point& point : floor.points) {
    lines.push_back("point " + point.id + " " + number(point.at.x) + "," + number(point.at.y) +
                    flag(point.siding, "siding") + flag(point.turn_round, "turn_round"));
  }
  for (const floor::Segment& segment : floor.segments) lines.push_back(line_of(floor, segment));
  for (const floor::Station& station : floor.stations) {
    lines.push_back("station " + station.id + " " + floor[station.point].id);
  }
  for (const floor::Charger& charger : floor.chargers) {
    lines.push_back("charger " + charger.id + " " + floor[charger.point].id);
  }
  for (const auto& [one, other] : floor.conflicts) {
    const auto [first, second] = std::minmax(floor[one].id, floor[other].id);
    lines.push_back("conflict " + first + " " + second);
  }
  return joined(std::move(lines));
}

std::string tag_text(const floor::Floor& floor) {
  Lines lines;
  for (const floor::Point& point : floor.points) {
    for (const std::string& tag : point.tags) lines.push_back(tag + " " + point.id);
  }
  return joined(std::move(lines));
}

std::string floor_difference(std::string_view before, std::string_view after) {
  const Lines old_lines = split(before);
  const Lines new_lines = split(after);
  Lines gone;
  Lines come;
  std::set_difference(old_lines.begin(), old_lines.end(), new_lines.begin(), new_lines.end(),
                      std::back_inserter(gone));
  std::set_difference(new_lines.begin(), new_lines.end(), old_lines.begin(), old_lines.end(),
                      std::back_inserter(come));
  if (gone.empty() && come.empty()) return "";
  std::string text = std::to_string(gone.size()) + " entries gone or altered, " +
                     std::to_string(come.size()) + " new or altered";
  if (!gone.empty()) text += "; was \"" + gone.front() + "\"";
  if (!come.empty()) text += "; is \"" + come.front() + "\"";
  return text;
}

std::string moved_tag(std::string_view before, std::string_view after) {
  const auto old_points = points_by_tag(before);
  for (const auto& [tag, point] : points_by_tag(after)) {
    const auto old = old_points.find(tag);
    if (old != old_points.end() && old->second != point) {
      return "tag " + tag + " marked point " + old->second + " and marks point " + point + " now";
    }
  }
  return "";
}

}  // namespace tagline::store
