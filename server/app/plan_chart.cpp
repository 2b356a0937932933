// See plan_chart.hpp.
#include "server/app/plan_chart.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <vector>

#include "server/app/svg_pen.hpp"

namespace tagline::app {
namespace {

constexpr double wide = 900, left = 80, right = 190, panel = 260, gap = 80, top = 80;
constexpr const char* ink = SvgPen::ink;
constexpr const char* faint = "#d5dae1";
constexpr const char* capacity_ink = "#2b5fa8";
constexpr const char* bound_ink = "#5a6675";
constexpr const char* demand_ink = "#b0401c";
constexpr const char* lead_ink = "#2f7d4f";

std::string rounded(double value, int decimals = 1) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

std::string label(double x, double y, const std::string& text, const char* anchor = "start",
                  const char* colour = ink, double size = 13) {
  return "<text x=\"" + rounded(x) + "\" y=\"" + rounded(y) + "\" text-anchor=\"" + anchor +
         "\" fill=\"" + colour + "\" font-size=\"" + rounded(size, 0) + "\">" + svg_escaped(text) +
         "</text>\n";
}

std::string stroke(double x1, double y1, double x2, double y2, const char* colour,
                   const char* dash = "", double width = 1) {
  return "<line x1=\"" + rounded(x1) + "\" y1=\"" + rounded(y1) + "\" x2=\"" + rounded(x2) +
         "\" y2=\"" + rounded(y2) + "\" stroke=\"" + colour + "\" stroke-width=\"" +
         rounded(width) + "\"" +
         (*dash != 0 ? " stroke-dasharray=\"" + std::string(dash) + "\"" : "") + "/>\n";
}

/// A round step of about a fifth of `most`: 1, 2 or 5 times a power of ten.
double grid_step(double most) {
  const double rough = std::max(most, 1e-9) / 5;
  const double power = std::pow(10, std::floor(std::log10(rough)));
  for (const double times : {1.0, 2.0, 5.0}) {
    if (times * power >= rough) return times * power;
  }
  return 10 * power;
}

/// One panel: carts across, a value up from 0.
class Panel {
 public:
  Panel(double y_top, double most, std::size_t carts)
      : y_top_(y_top), step_(grid_step(most)), carts_(static_cast<double>(carts)) {
    most_ = step_ * std::ceil(most / step_ + 1e-9);
  }
  [[nodiscard]] double x(double carts) const {
    return left + (wide - left - right) * (carts - 0.5) / carts_;
  }
  [[nodiscard]] double y(double value) const {
    return y_top_ + panel * (1 - std::clamp(value / most_, 0.0, 1.0));
  }
  [[nodiscard]] std::string frame(const std::string& title) const {
    std::string svg = label(left, y_top_ - 14, title, "start", ink, 14);
    for (int i = 0; step_ * i <= most_ * (1 + 1e-9); ++i) {
      const double value = step_ * i;
      svg += stroke(left, y(value), wide - right, y(value), faint);
      svg += label(left - 8, y(value) + 4, rounded(value, step_ < 1 ? 1 : 0), "end");
    }
    for (int n = 1; n <= static_cast<int>(carts_); ++n) {
      svg += label(x(n), y_top_ + panel + 18, std::to_string(n), "middle");
    }
    return svg;
  }

 private:
  double y_top_, step_, most_{}, carts_;
};

enum class Mark { circle, square, none };

struct Series {
  std::vector<sim::Estimate> values;  // one per number of carts, from 1 on
  const char* colour;
  const char* dash;
  Mark mark;
  std::string name;
};

std::string draw(const Panel& at, const Series& series) {
  std::string svg;
  for (std::size_t i = 0; i < series.values.size(); ++i) {
    const double x = at.x(static_cast<double>(i + 1));
    const sim::Estimate& e = series.values[i];
    const double y = at.y(e.mean);
    if (i > 0) {
      svg += stroke(at.x(static_cast<double>(i)), at.y(series.values[i - 1].mean), x, y,
                    series.colour, series.dash, 2);
    }
    if (e.half_width > 0) {
      const double high = at.y(e.mean + e.half_width);
      const double low = at.y(e.mean - e.half_width);
      svg += stroke(x, high, x, low, series.colour, "", 1.5);
      svg += stroke(x - 5, high, x + 5, high, series.colour, "", 1.5);
      svg += stroke(x - 5, low, x + 5, low, series.colour, "", 1.5);
    }
    if (series.mark == Mark::circle) {
      svg += "<circle cx=\"" + rounded(x) + "\" cy=\"" + rounded(y) + "\" r=\"4.5\" fill=\"" +
             series.colour + "\"/>\n";
    } else if (series.mark == Mark::square) {
      svg += "<rect x=\"" + rounded(x - 4) + "\" y=\"" + rounded(y - 4) +
             "\" width=\"8\" height=\"8\" fill=\"" + series.colour + "\"/>\n";
    }
  }
  return svg;
}

/// Names at the right of the panel, each at the height of its line, moved apart where they meet.
std::string names(std::vector<std::pair<double, const Series*>> at) {
  std::ranges::sort(at, {}, [](const auto& item) { return item.first; });
  std::string svg;
  double last = -1e9;
  for (const auto& [wanted, series] : at) {
    const double y = std::max(wanted, last + 16);
    last = y;
    svg += label(wide - right + 10, y + 4, series->name, "start", series->colour);
  }
  return svg;
}

}  // namespace

std::string draw_plan(const std::string& floor_name, const PlanStudy& study) {
  const std::size_t n = study.fleets.size();
  Series capacity{{}, capacity_ink, "", Mark::circle, "can deliver"};
  Series bound{{}, bound_ink, "7 5", Mark::none, "at most possible"};
  Series demand{{}, demand_ink, "2 4", Mark::none, "demand"};
  Series lead{{}, lead_ink, "", Mark::square, "mean lead time"};
  double most = study.demand_per_hour;
  double slowest = 0;
  for (const PlannedFleet& fleet : study.fleets) {
    capacity.values.push_back(fleet.capacity);
    bound.values.push_back({fleet.bound_per_hour, 0});
    demand.values.push_back({study.demand_per_hour, 0});
    lead.values.push_back({fleet.lead_time_s.mean / 60, fleet.lead_time_s.half_width / 60});
    most = std::max({most, fleet.bound_per_hour, fleet.capacity.mean + fleet.capacity.half_width});
    slowest = std::max(slowest, (fleet.lead_time_s.mean + fleet.lead_time_s.half_width) / 60);
  }
  const double high = 2 * panel + gap + top + 60;
  std::string svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " + rounded(wide, 0) +
                    " " + rounded(high, 0) +
                    "\" font-family=\"sans-serif\">\n<rect width=\"100%\" "
                    "height=\"100%\" fill=\"#ffffff\"/>\n";
  svg += label(left, 34,
               floor_name + ": " +
                   (study.enough ? std::to_string(study.fleets[*study.enough].carts) +
                                       " carts carry the demand"
                                 : "no number of carts tried carries the demand"),
               "start", ink, 18);
  const Panel up(top, most, n);
  const Panel down(top + panel + gap, slowest, n);
  svg += up.frame("Deliveries per hour with a queue that is never empty; bars: 95 % confidence");
  svg += down.frame("Minutes from asking to delivery, with the demand; bars: 95 % confidence");
  if (study.enough) {
    const double x = up.x(static_cast<double>(*study.enough + 1));
    for (const double y : {top, top + panel + gap}) {
      svg += stroke(x, y, x, y + panel, ink, "1 3");
    }
    svg += label(x, top + panel + 36, "enough", "middle");
  }
  for (const Series* series : {&bound, &demand, &capacity}) svg += draw(up, *series);
  svg += names({{up.y(bound.values.back().mean), &bound},
                {up.y(demand.values.back().mean), &demand},
                {up.y(capacity.values.back().mean), &capacity}});
  svg += draw(down, lead);
  svg += names({{down.y(lead.values.back().mean), &lead}});
  svg += label((left + wide - right) / 2, top + 2 * panel + gap + 40, "carts", "middle");
  return svg + "</svg>\n";
}

}  // namespace tagline::app
