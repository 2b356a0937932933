// Shapes and words as SVG 1.1 text: what drawings have in common. Units are pixels, y runs down.
#pragma once

#include <string>

namespace tagline::app {

/// With one decimal: as fine as a screen shows.
std::string svg_number(double value);
/// For text and attribute values.
std::string svg_escaped(const std::string& text);

/// Collects the body of a drawing. `style`, `more`: further attributes, as they are written.
class SvgPen {
 public:
  static constexpr const char* ink = "#1c2430";

  /// With a white rim, to be read across lines.
  void text(double x, double y, double size, const std::string& what, const std::string& more = "");
  void line(double x1, double y1, double x2, double y2, const std::string& colour, double thick);
  /// `points`: "x,y x,y ...".
  void path(const std::string& points, const std::string& style);
  void polygon(const std::string& points, const std::string& style);
  void circle(double x, double y, double radius, const std::string& style);
  void rectangle(double x, double y, double width, double height, const std::string& style);
  /// Anything else, whole elements.
  void add(const std::string& elements) { body_ += elements; }

  [[nodiscard]] const std::string& body() const { return body_; }

 private:
  std::string body_;
};

}  // namespace tagline::app
