// See svg_pen.hpp.
#include "server/app/svg_pen.hpp"

#include <cstdio>

namespace tagline::app {
namespace {

std::string attribute(const char* name, double value) {
  return std::string(" ") + name + "=\"" + svg_number(value) + "\"";
}

}  // namespace

std::string svg_number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

std::string svg_escaped(const std::string& text) {
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

void SvgPen::text(double x, double y, double size, const std::string& what,
                  const std::string& more) {
  body_ += "<text" + attribute("x", x) + attribute("y", y) + attribute("font-size", size) +
           " paint-order=\"stroke\" stroke=\"#ffffff\" stroke-width=\"3\" fill=\"" + ink + "\"" +
           (more.empty() ? "" : " " + more) + ">" + svg_escaped(what) + "</text>\n";
}

void SvgPen::line(double x1, double y1, double x2, double y2, const std::string& colour,
                  double thick) {
  body_ += "<line" + attribute("x1", x1) + attribute("y1", y1) + attribute("x2", x2) +
           attribute("y2", y2) + " stroke=\"" + colour + "\"" + attribute("stroke-width", thick) +
           "/>\n";
}

void SvgPen::path(const std::string& points, const std::string& style) {
  body_ += "<polyline points=\"" + points + "\" fill=\"none\" " + style + "/>\n";
}

void SvgPen::polygon(const std::string& points, const std::string& style) {
  body_ += "<polygon points=\"" + points + "\" " + style + "/>\n";
}

void SvgPen::circle(double x, double y, double radius, const std::string& style) {
  body_ += "<circle" + attribute("cx", x) + attribute("cy", y) + attribute("r", radius) + " " +
           style + "/>\n";
}

void SvgPen::rectangle(double x, double y, double width, double height, const std::string& style) {
  body_ += "<rect" + attribute("x", x) + attribute("y", y) + attribute("width", width) +
           attribute("height", height) + " " + style + "/>\n";
}

}  // namespace tagline::app
