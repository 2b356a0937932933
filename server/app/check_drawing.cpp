// See check_drawing.hpp.
#include "server/app/check_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <numbers>
#include <optional>
#include <vector>

#include "server/app/check_report.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::app {
namespace {

using floor::Approach;
using floor::Finding;
using floor::Position;
using floor::Severity;

constexpr double drawn_width = 1400, margin = 50, row = 17, head = 56;
constexpr std::size_t legend_chars = 175;
constexpr const char* ink = "#1c2430";
constexpr const char* tape = "#5a6675";
constexpr const char* foul = "#c8741a";
constexpr const char* rest = "#2f7d4f";
constexpr const char* work = "#2b5fa8";

std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

std::string escaped(const std::string& text) {
  std::string result;
  for (const char c : text) {
    switch (c) {
      case '&':
        result += "&amp;";
        break;
      case '<':
        result += "&lt;";
        break;
      case '>':
        result += "&gt;";
        break;
      case '"':
        result += "&quot;";
        break;
      default:
        result += c;
    }
  }
  return result;
}

class Drawing {
 public:
  Drawing(const floor::Track& track, const CheckResult& result)
      : track_{track}, floor_{track.floor()}, result_{result} {
    find_extent();
  }

  std::string draw() {
    draw_floor_lines();
    draw_fouling();
    draw_tape();
    draw_waits();
    draw_places();
    draw_points();
    draw_findings();
    const double bottom = draw_legend();
    return "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" + number(drawn_width) +
           "\" height=\"" + number(bottom) + "\" viewBox=\"0 0 " + number(drawn_width) + " " +
           number(bottom) +
           "\" font-family=\"DejaVu Sans, Verdana, sans-serif\" role=\"img\">\n<title>" +
           escaped("Floor check: " + floor_.name) +
           "</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n" + body_ +
           "</svg>\n";
  }

 private:
  // ---- coordinates

  void find_extent() {
    low_ = high_ = floor_.points.front().at;
    const auto take = [&](Position p) {
      low_ = {std::min(low_.x, p.x), std::min(low_.y, p.y)};
      high_ = {std::max(high_.x, p.x), std::max(high_.y, p.y)};
    };
    for (const floor::Point& point : floor_.points) take(point.at);
    for (const floor::Segment& segment : floor_.segments) std::ranges::for_each(segment.via, take);
    const double wide = std::max(1000.0, high_.x - low_.x);
    const double high = std::max(1000.0, high_.y - low_.y);
    // A narrow, high floor must not become a drawing of ten screens.
    scale_ = std::min((drawn_width - 2 * margin) / wide, 1600 / high);
    plan_bottom_ = head + 2 * margin + (high_.y - low_.y) * scale_;
  }
  [[nodiscard]] double x(double mm) const { return margin + (mm - low_.x) * scale_; }
  [[nodiscard]] double y(double mm) const { return head + margin + (high_.y - mm) * scale_; }

  // ---- pieces of SVG

  /// With a white rim, to be read across tape.
  void text(double at_x, double at_y, double size, const std::string& what,
            const std::string& more = "") {
    body_ += "<text x=\"" + number(at_x) + "\" y=\"" + number(at_y) + "\" font-size=\"" +
             number(size) +
             "\" paint-order=\"stroke\" stroke=\"#ffffff\" stroke-width=\"3\" fill=\"" + ink +
             "\"" + (more.empty() ? "" : " " + more) + ">" + escaped(what) + "</text>\n";
  }
  void line(double x1, double y1, double x2, double y2, const std::string& colour, double thick) {
    body_ += "<line x1=\"" + number(x1) + "\" y1=\"" + number(y1) + "\" x2=\"" + number(x2) +
             "\" y2=\"" + number(y2) + "\" stroke=\"" + colour + "\" stroke-width=\"" +
             number(thick) + "\"/>\n";
  }
  void path(const std::string& points, const std::string& style) {
    body_ += "<polyline points=\"" + points + "\" fill=\"none\" " + style + "/>\n";
  }
  void polygon(const std::string& points, const std::string& style) {
    body_ += "<polygon points=\"" + points + "\" " + style + "/>\n";
  }
  [[nodiscard]] std::string stretch(const floor::Polyline& curve, double from, double to) const {
    std::string points;
    const auto add = [&](double driven) {
      const Position p = curve.at(driven).at;
      points += number(x(p.x)) + "," + number(y(p.y)) + " ";
    };
    add(from);
    for (const double corner : curve.corner_distances()) {
      if (corner > from && corner < to) add(corner);
    }
    add(to);
    return points;
  }

  // ---- layers

  void draw_floor_lines() {
    text(margin, 26, 17, "Floor check: " + floor_.name, "font-weight=\"bold\"");
    const double right = drawn_width - margin;
    body_ += "<rect x=\"" + number(margin / 2) + "\" y=\"" + number(head) + "\" width=\"" +
             number(drawn_width - margin) + "\" height=\"" + number(plan_bottom_ - head) +
             "\" fill=\"#f7f8f9\" stroke=\"#c9d0d8\"/>\n";
    // A measure of a whole number of metres, about a tenth of the drawing.
    double metres = 1;
    for (const double m : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0}) {
      if (m * 1000 * scale_ <= drawn_width / 6) metres = m;
    }
    const double length = metres * 1000 * scale_;
    line(right - length, 22, right, 22, ink, 2);
    line(right - length, 17, right - length, 27, ink, 2);
    line(right, 17, right, 27, ink, 2);
    text(right - length / 2, 40, 12, number(metres).substr(0, number(metres).find('.')) + " m",
         "text-anchor=\"middle\"");
  }

  /// Walks back along the tape from the place, over segments that lead there.
  void draw_foul_zone(PoseIx pose, double from_end, double length) {
    const floor::Ways& ways = track_.ways();
    const double thick = static_cast<double>(floor_.cart.width.value) * scale_;
    for (int i = 0; i < 32 && length > 0; ++i) {
      const floor::Polyline curve = floor::tape_of(floor_, ways[pose].by, ways[pose].reversed);
      const double end = curve.length() - from_end;
      const double start = std::max(0.0, end - length);
      path(stretch(curve, start, end),
           "stroke=\"url(#fouling)\" stroke-opacity=\"0.55\" stroke-width=\"" + number(thick) +
               "\"");
      length -= end - start;
      from_end = 0;
      const auto before = ways.moves_to(pose);
      const auto into = std::ranges::find(before, floor::Gear::forward, &floor::Move::gear);
      if (into == before.end()) return;
      pose = into->from;
    }
  }

  void draw_fouling() {
    body_ += std::string("<defs><pattern id=\"fouling\" width=\"7\" height=\"7\" patternUnits=") +
             "\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" "
             "fill=\"#f6dfc4\"/><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"" +
             foul + "\" stroke-width=\"3\"/></pattern></defs>\n";
    const auto zone = [&](const Approach& approach, double from_end) {
      draw_foul_zone(
          approach.pose, from_end,
          approach.foul ? static_cast<double>(approach.foul->value) : floor::foul_search);
    };
    for (const floor::Merge& merge : result_.inspection.merges) {
      for (const Approach& approach : merge.approaches) zone(approach, 0);
    }
    for (const floor::Crossing& crossing : result_.inspection.crossings) {
      for (const Approach& approach : crossing.approaches) {
        const floor::Pose& pose = track_.ways()[approach.pose];
        const floor::Polyline curve = floor::tape_of(floor_, pose.by, pose.reversed);
        zone(approach, curve.length() - nearest(curve, crossing.at));
      }
    }
  }

  [[nodiscard]] static double nearest(const floor::Polyline& curve, Position place) {
    double best = 0;
    const auto steps = static_cast<int>(curve.length() / 10);
    for (int i = 0; i <= steps; ++i) {
      if (floor::distance(curve.at(i * 10).at, place) < floor::distance(curve.at(best).at, place)) {
        best = i * 10;
      }
    }
    return best;
  }

  void arrow(const floor::Polyline& curve, double driven, bool back) {
    const floor::Spot spot = curve.at(driven);
    const double heading = -spot.heading + (back ? std::numbers::pi : 0);  // y runs down
    std::string points;
    for (const auto& [along, side] : {std::pair{7.0, 0.0}, {-4.0, 4.5}, {-4.0, -4.5}}) {
      points += number(x(spot.at.x) + along * std::cos(heading) - side * std::sin(heading)) + "," +
                number(y(spot.at.y) + along * std::sin(heading) + side * std::cos(heading)) + " ";
    }
    polygon(points, std::string("fill=\"") + tape + "\"");
  }

  void draw_tape() {
    for (std::uint32_t s = 0; s < floor_.segments.size(); ++s) {
      const floor::Segment& segment = floor_.segments[s];
      const floor::Polyline curve = floor::tape_of(floor_, {s});
      std::string style = std::string("stroke=\"") + tape + "\" stroke-width=\"3\"";
      if (segment.spur) style += " stroke-dasharray=\"9 4\"";
      path(stretch(curve, 0, curve.length()), style);
      const double middle = curve.length() / 2;
      const double apart = 8 / scale_;
      if (segment.two_way && !segment.spur && curve.length() > 3 * apart) {
        arrow(curve, middle + apart, false);
        arrow(curve, middle - apart, true);
      } else {
        arrow(curve, middle, false);
      }
    }
  }

  void draw_wait(const Approach& approach) {
    if (!approach.wait) return;
    const floor::Ways& ways = track_.ways();
    const floor::Pose& pose = ways[approach.wait->pose];
    const floor::Spot spot = [&] {
      const floor::Polyline curve = floor::tape_of(floor_, pose.by, pose.reversed);
      return curve.at(curve.length());
    }();
    const double reach = std::max(13.0, static_cast<double>(floor_.cart.width.value) * scale_ / 2);
    const double dx = -std::sin(-spot.heading) * reach;
    const double dy = std::cos(-spot.heading) * reach;
    line(x(spot.at.x) - dx, y(spot.at.y) - dy, x(spot.at.x) + dx, y(spot.at.y) + dy, foul, 4);
  }

  void draw_waits() {
    for (const floor::Merge& merge : result_.inspection.merges) {
      std::ranges::for_each(merge.approaches, [&](const Approach& a) { draw_wait(a); });
    }
    for (const floor::Crossing& crossing : result_.inspection.crossings) {
      std::ranges::for_each(crossing.approaches, [&](const Approach& a) { draw_wait(a); });
    }
  }

  void box(Position at, const std::string& colour, bool round, const std::string& letter) {
    body_ += "<rect x=\"" + number(x(at.x) - 9) + "\" y=\"" + number(y(at.y) - 9) +
             "\" width=\"18\" height=\"18\" rx=\"" + (round ? "9" : "2") +
             "\" fill=\"#ffffff\" stroke=\"" + colour + "\" stroke-width=\"2.5\"/>\n";
    text(x(at.x), y(at.y) + 4, 11, letter, "text-anchor=\"middle\" font-weight=\"bold\"");
  }

  void draw_places() {
    for (const floor::Point& point : floor_.points) {
      if (point.siding) box(point.at, rest, true, "R");
    }
    std::map<PointIx, std::string> names;
    for (const floor::Station& station : floor_.stations) {
      std::string& name = names[station.point];
      name += (name.empty() ? "" : ", ") + station.id;
    }
    for (const auto& [point, name] : names) {
      const Position at = floor_[point].at;
      if (!floor_[point].siding) box(at, work, false, "S");
      text(x(at.x), y(at.y) + 23, 11, name, "text-anchor=\"middle\" font-weight=\"bold\"");
    }
    for (const floor::Charger& charger : floor_.chargers) {
      const Position at = floor_[charger.point].at;
      text(x(at.x), y(at.y) + 21, 10, "charger " + charger.id, "text-anchor=\"middle\"");
    }
  }

  void draw_points() {
    for (const floor::Point& point : floor_.points) {
      const double cx = x(point.at.x);
      const double cy = y(point.at.y);
      const bool boxed =
          point.siding || std::ranges::any_of(floor_.stations, [&](const floor::Station& station) {
            return &floor_[station.point] == &point;
          });
      if (point.tags.empty()) {
        line(cx - 6, cy - 6, cx + 6, cy + 6, ink, 2);
        line(cx - 6, cy + 6, cx + 6, cy - 6, ink, 2);
      } else if (!boxed) {
        body_ += "<circle cx=\"" + number(cx) + "\" cy=\"" + number(cy) + "\" r=\"3.6\" fill=\"" +
                 (point.turn_round ? "#ffffff" : ink) + "\" stroke=\"" + ink +
                 "\" stroke-width=\"1.5\"/>\n";
      }
      if (point.turn_round) {
        body_ += "<circle cx=\"" + number(cx) + "\" cy=\"" + number(cy) +
                 "\" r=\"14\" fill=\"none\" stroke=\"" + ink +
                 "\" stroke-width=\"1.2\" stroke-dasharray=\"3 3\"/>\n";
      }
      text(cx + 6, cy - (boxed ? 12 : 6), 9, point.id);
    }
  }

  /// Square, diamond or circle, so that the severity can be told without colour.
  void badge(double cx, double cy, Severity severity, const std::string& label) {
    const auto at = [&](double dx, double dy) { return number(cx + dx) + "," + number(cy + dy); };
    const std::string edge = std::string(" stroke=\"") + ink + "\" stroke-width=\"1.5\"";
    std::string ink_on = ink;
    switch (severity) {
      case Severity::forbids:
        polygon(at(-10, -10) + " " + at(10, -10) + " " + at(10, 10) + " " + at(-10, 10),
                "fill=\"#b3261e\"" + edge);
        ink_on = "#ffffff";
        break;
      case Severity::costs:
        polygon(at(-13, 0) + " " + at(0, -13) + " " + at(13, 0) + " " + at(0, 13),
                "fill=\"#ffd97a\"" + edge);
        break;
      case Severity::note:
        body_ += "<circle cx=\"" + number(cx) + "\" cy=\"" + number(cy) +
                 "\" r=\"10\" fill=\"#dbe7f5\"" + edge + "/>\n";
        break;
    }
    body_ += "<text x=\"" + number(cx) + "\" y=\"" + number(cy + 3.8) +
             "\" font-size=\"10.5\" font-weight=\"bold\" text-anchor=\"middle\" fill=\"" + ink_on +
             "\">" + label + "</text>\n";
  }

  void draw_findings() {
    // Several at one place stand side by side.
    std::map<std::pair<long, long>, int> there;
    for (std::size_t i = 0; i < result_.inspection.findings.size(); ++i) {
      const Finding& finding = result_.inspection.findings[i];
      const double cx = x(finding.at.x);
      const double cy = y(finding.at.y);
      const int nth = there[{std::lround(cx / 26), std::lround(cy / 26)}]++;
      line(cx, cy, cx - 16, cy - 22, ink, 1);
      badge(cx - 18 + 27.0 * nth, cy - 26, finding.severity, std::to_string(i + 1));
    }
  }

  double draw_legend() {
    double at = plan_bottom_ + 26;
    const double left = margin;
    const auto key = [&](double key_x, const std::string& what) { text(key_x, at + 4, 11, what); };
    box_at(left + 9, at, work, false, "S");
    key(left + 26, "station");
    box_at(left + 115, at, rest, true, "R");
    key(left + 132, "siding (rest)");
    line(left + 240, at - 9, left + 240, at + 9, foul, 4);
    key(left + 250, "last place to wait");
    body_ += "<rect x=\"" + number(left + 385) + "\" y=\"" + number(at - 9) +
             "\" width=\"34\" height=\"18\" fill=\"url(#fouling)\"/>\n";
    key(left + 427, "bodies foul each other");
    path(number(left + 590) + "," + number(at) + " " + number(left + 624) + "," + number(at),
         std::string("stroke=\"") + tape + "\" stroke-width=\"3\" stroke-dasharray=\"9 4\"");
    key(left + 632, "spur");
    line(left + 684, at - 6, left + 696, at + 6, ink, 2);
    line(left + 684, at + 6, left + 696, at - 6, ink, 2);
    key(left + 704, "no tag");
    badge(left + 790, at, Severity::forbids, "1");
    key(left + 806, "must be put right");
    badge(left + 940, at, Severity::costs, "2");
    key(left + 958, "costs time");
    badge(left + 1055, at, Severity::note, "3");
    key(left + 1071, "worth knowing");
    at += 2 * row + 4;
    if (result_.inspection.findings.empty()) {
      text(left, at, 12, "No findings.");
      at += row;
    }
    for (std::size_t i = 0; i < result_.inspection.findings.size(); ++i) {
      const Finding& finding = result_.inspection.findings[i];
      badge(left + 9, at - 4, finding.severity, std::to_string(i + 1));
      text(left + 34, at, 12, finding.place, "font-weight=\"bold\"");
      for (const std::string& words : wrapped(finding.figure, legend_chars)) {
        at += row;
        text(left + 34, at, 12, words);
      }
      at += row + 8;
    }
    return at + 10;
  }

  void box_at(double cx, double cy, const std::string& colour, bool round,
              const std::string& letter) {
    box({low_.x + (cx - margin) / scale_, high_.y - (cy - head - margin) / scale_}, colour, round,
        letter);
  }

  const floor::Track& track_;
  const floor::Floor& floor_;
  const CheckResult& result_;
  Position low_, high_;
  double scale_{1};
  double plan_bottom_{};
  std::string body_;
};

}  // namespace

std::string check_drawing(const floor::Track& track, const CheckResult& result) {
  return Drawing{track, result}.draw();
}

}  // namespace tagline::app
