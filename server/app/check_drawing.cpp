// See check_drawing.hpp.
#include "server/app/check_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <optional>
#include <set>
#include <vector>

#include "server/app/check_report.hpp"
#include "server/app/svg_pen.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::app {
namespace {

using floor::Approach;
using floor::Finding;
using floor::Position;
using floor::Severity;

constexpr double drawn_width = 1400, margin = 50, row = 17, head = 56, square = 4;
constexpr std::size_t legend_chars = 175;
constexpr const char* ink = SvgPen::ink;
constexpr const char* tape = "#5a6675";
constexpr const char* turning =
    R"(fill="none" stroke="#1c2430" stroke-width="1.2" stroke-dasharray="3 3")";
constexpr const char* foul = "#c8741a";
constexpr const char* rest = "#2f7d4f";
constexpr const char* work = "#2b5fa8";

class Drawing {
 public:
  Drawing(const floor::Track& track, const CheckResult& result)
      : track_{track}, floor_{track.floor()}, result_{result} {
    find_extent();
    note_tape();
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
    return "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" + svg_number(drawn_width) +
           "\" height=\"" + svg_number(bottom) + "\" viewBox=\"0 0 " + svg_number(drawn_width) +
           " " + svg_number(bottom) +
           "\" font-family=\"DejaVu Sans, Verdana, sans-serif\" role=\"img\">\n<title>" +
           svg_escaped("Floor check: " + floor_.name) +
           "</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n" + pen_.body() +
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

  [[nodiscard]] std::string stretch(const floor::Polyline& curve, double from, double to) const {
    std::string points;
    const auto add = [&](double driven) {
      const Position p = curve.at(driven).at;
      points += svg_number(x(p.x)) + "," + svg_number(y(p.y)) + " ";
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
    pen_.text(margin, 26, 17, "Floor check: " + floor_.name, "font-weight=\"bold\"");
    pen_.text(margin, 45, 12,
              "Checked for " + std::to_string(result_.carts) +
                  (result_.carts == 1 ? " cart: " : " carts: ") +
                  (result_.may_run() ? "may run." : "must not run yet."));
    const double right = drawn_width - margin;
    pen_.rectangle(margin / 2, head, drawn_width - margin, plan_bottom_ - head,
                   "fill=\"#f7f8f9\" stroke=\"#c9d0d8\"");
    // A measure of a whole number of metres, about a tenth of the drawing.
    double metres = 1;
    for (const double m : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0}) {
      if (m * 1000 * scale_ <= drawn_width / 6) metres = m;
    }
    const double length = metres * 1000 * scale_;
    pen_.line(right - length, 22, right, 22, ink, 2);
    pen_.line(right - length, 17, right - length, 27, ink, 2);
    pen_.line(right, 17, right, 27, ink, 2);
    pen_.text(right - length / 2, 40, 12,
              svg_number(metres).substr(0, svg_number(metres).find('.')) + " m",
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
      pen_.path(stretch(curve, start, end),
                "stroke=\"url(#fouling)\" stroke-opacity=\"0.55\" stroke-width=\"" +
                    svg_number(thick) + "\"");
      length -= end - start;
      from_end = 0;
      const auto before = ways.moves_to(pose);
      const auto into = std::ranges::find(before, floor::Gear::forward, &floor::Move::gear);
      if (into == before.end()) return;
      pose = into->from;
    }
  }

  void draw_fouling() {
    pen_.add(std::string("<defs><pattern id=\"fouling\" width=\"7\" height=\"7\" patternUnits=") +
             "\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" "
             "fill=\"#f6dfc4\"/><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"" +
             foul + "\" stroke-width=\"3\"/></pattern></defs>\n");
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
      points +=
          svg_number(x(spot.at.x) + along * std::cos(heading) - side * std::sin(heading)) + "," +
          svg_number(y(spot.at.y) + along * std::sin(heading) + side * std::cos(heading)) + " ";
    }
    pen_.polygon(points, std::string("fill=\"") + tape + "\"");
  }

  void draw_tape() {
    for (std::uint32_t s = 0; s < floor_.segments.size(); ++s) {
      const floor::Segment& segment = floor_.segments[s];
      const floor::Polyline curve = floor::tape_of(floor_, {s});
      std::string style = std::string("stroke=\"") + tape + "\" stroke-width=\"3\"";
      if (segment.spur) style += " stroke-dasharray=\"9 4\"";
      pen_.path(stretch(curve, 0, curve.length()), style);
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
    pen_.line(x(spot.at.x) - dx, y(spot.at.y) - dy, x(spot.at.x) + dx, y(spot.at.y) + dy, foul, 4);
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
    pen_.rectangle(x(at.x) - 9, y(at.y) - 9, 18, 18,
                   std::string("rx=\"") + (round ? "9" : "2") + "\" fill=\"#ffffff\" stroke=\"" +
                       colour + "\" stroke-width=\"2.5\"");
    pen_.text(x(at.x), y(at.y) + 4, 11, letter, "text-anchor=\"middle\" font-weight=\"bold\"");
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
      if (!floor_[point].siding) box(floor_[point].at, work, false, "S");
      name_place(point, name, 11, "text-anchor=\"middle\" font-weight=\"bold\"");
    }
    for (const floor::Charger& charger : floor_.chargers) {
      name_place(charger.point, "charger " + charger.id, 10, "text-anchor=\"middle\"");
    }
  }

  /// Under the place, or above it if only there no tape runs through the words; findings stand
  /// there too.
  void name_place(PointIx point, const std::string& name, double size, const std::string& more) {
    const double cx = x(floor_[point].at.x);
    const double cy = y(floor_[point].at.y);
    const double half = 0.33 * size * static_cast<double>(name.size());
    const double below = cy + 23;
    const double above = cy - 25;
    const bool raise = tape_in(cx - half, below - size, cx + half, below) &&
                       !tape_in(cx - half, above - size, cx + half, above) &&
                       !has_finding(floor_[point].at);
    pen_.text(cx, raise ? above : below, size, name, more);
  }

  [[nodiscard]] bool has_finding(Position place) const {
    return std::ranges::any_of(result_.inspection.findings, [&](const Finding& finding) {
      return floor::distance(finding.at, place) < 1;
    });
  }

  /// Looks at the tape every few pixels; told by squares of as many.
  void note_tape() {
    for (std::uint32_t s = 0; s < floor_.segments.size(); ++s) {
      const floor::Polyline curve = floor::tape_of(floor_, {s});
      const auto steps = static_cast<int>(curve.length() * scale_ / square) + 1;
      for (int i = 0; i <= steps; ++i) {
        const Position at = curve.at(curve.length() * i / steps).at;
        taped_.insert({std::lround(x(at.x) / square), std::lround(y(at.y) / square)});
      }
    }
  }
  [[nodiscard]] bool tape_in(double left, double top, double right, double bottom) const {
    for (long across = std::lround(left / square); across <= std::lround(right / square);
         ++across) {
      const auto below = taped_.lower_bound({across, std::lround(top / square)});
      if (below != taped_.end() && below->first == across &&
          below->second <= std::lround(bottom / square)) {
        return true;
      }
    }
    return false;
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
        pen_.line(cx - 6, cy - 6, cx + 6, cy + 6, ink, 2);
        pen_.line(cx - 6, cy + 6, cx + 6, cy - 6, ink, 2);
      } else if (!boxed) {
        pen_.circle(cx, cy, 3.6,
                    std::string("fill=\"") + (point.turn_round ? "#ffffff" : ink) + "\" stroke=\"" +
                        ink + "\" stroke-width=\"1.5\"");
      }
      if (point.turn_round) {
        pen_.circle(cx, cy, 14, turning);
      }
      pen_.text(cx + 6, cy - (boxed ? 12 : 6), 9, point.id);
    }
  }

  /// Square, diamond or circle, so that the severity can be told without colour.
  void badge(double cx, double cy, Severity severity, const std::string& label) {
    const auto at = [&](double dx, double dy) {
      return svg_number(cx + dx) + "," + svg_number(cy + dy);
    };
    const std::string edge = std::string(" stroke=\"") + ink + "\" stroke-width=\"1.5\"";
    std::string ink_on = ink;
    switch (severity) {
      case Severity::forbids:
        pen_.polygon(at(-10, -10) + " " + at(10, -10) + " " + at(10, 10) + " " + at(-10, 10),
                     "fill=\"#b3261e\"" + edge);
        ink_on = "#ffffff";
        break;
      case Severity::costs:
        pen_.polygon(at(-13, 0) + " " + at(0, -13) + " " + at(13, 0) + " " + at(0, 13),
                     "fill=\"#ffd97a\"" + edge);
        break;
      case Severity::note:
        pen_.circle(cx, cy, 10, "fill=\"#dbe7f5\"" + edge);
        break;
    }
    pen_.add("<text x=\"" + svg_number(cx) + "\" y=\"" + svg_number(cy + 3.8) +
             "\" font-size=\"10.5\" font-weight=\"bold\" text-anchor=\"middle\" fill=\"" + ink_on +
             "\">" + label + "</text>\n");
  }

  void draw_findings() {
    // Several at one place stand one above the other; what is about the whole floor, in its corner.
    std::map<std::pair<long, long>, int> there;
    int in_the_corner = 0;
    for (std::size_t i = 0; i < result_.inspection.findings.size(); ++i) {
      const Finding& finding = result_.inspection.findings[i];
      const std::string label = std::to_string(i + 1);
      if (finding.place == whole_floor) {
        badge(margin / 2 + 20 + 29.0 * in_the_corner++, head + 20, finding.severity, label);
        continue;
      }
      const double cx = x(finding.at.x);
      const double cy = y(finding.at.y);
      const int nth = there[{std::lround(cx / 26), std::lround(cy / 26)}]++;
      const double up = 26.0 + 25.0 * nth;
      pen_.line(cx, cy, cx - 16, cy - up + 4, ink, 1);
      badge(cx - 18, cy - up, finding.severity, label);
    }
  }

  double draw_legend() {
    double at = plan_bottom_ + 26;
    const double left = margin;
    const auto key = [&](double key_x, const std::string& what) {
      pen_.text(key_x, at + 4, 11, what);
    };
    box_at(left + 9, at, work, false, "S");
    key(left + 26, "station");
    box_at(left + 115, at, rest, true, "R");
    key(left + 132, "siding (rest)");
    pen_.line(left + 240, at - 9, left + 240, at + 9, foul, 4);
    key(left + 250, "last place to wait");
    pen_.rectangle(left + 385, at - 9, 34, 18, "fill=\"url(#fouling)\"");
    key(left + 427, "bodies foul each other");
    pen_.path(svg_number(left + 590) + "," + svg_number(at) + " " + svg_number(left + 624) + "," +
                  svg_number(at),
              std::string("stroke=\"") + tape + "\" stroke-width=\"3\" stroke-dasharray=\"9 4\"");
    key(left + 632, "spur");
    pen_.line(left + 684, at - 6, left + 696, at + 6, ink, 2);
    pen_.line(left + 684, at + 6, left + 696, at - 6, ink, 2);
    key(left + 704, "no tag");
    badge(left + 790, at, Severity::forbids, "1");
    key(left + 806, "must be put right");
    badge(left + 940, at, Severity::costs, "2");
    key(left + 958, "costs time");
    badge(left + 1055, at, Severity::note, "3");
    key(left + 1071, "worth knowing");
    pen_.circle(left + 1185, at, 10, turning);
    key(left + 1201, "carts turn round");
    at += 2 * row + 4;
    if (result_.inspection.findings.empty()) {
      pen_.text(left, at, 12, "No findings.");
      at += row;
    }
    for (std::size_t i = 0; i < result_.inspection.findings.size(); ++i) {
      const Finding& finding = result_.inspection.findings[i];
      badge(left + 9, at - 4, finding.severity, std::to_string(i + 1));
      pen_.text(left + 34, at, 12, finding.place, "font-weight=\"bold\"");
      for (const std::string& words : wrapped(finding.figure, legend_chars)) {
        at += row;
        pen_.text(left + 34, at, 12, words);
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
  std::set<std::pair<long, long>> taped_;
  SvgPen pen_;
};

}  // namespace

std::string check_drawing(const floor::Track& track, const CheckResult& result) {
  return Drawing{track, result}.draw();
}

}  // namespace tagline::app
