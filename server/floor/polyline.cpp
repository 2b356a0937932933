// Curves of tape: see polyline.hpp.
#include "server/floor/polyline.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <utility>

namespace tagline::floor {

double turn_between(double from, double to) {
  const double turn = std::remainder(to - from, 2 * std::numbers::pi);
  return turn <= -std::numbers::pi ? std::numbers::pi : turn;
}

double distance(Position a, Position b) { return std::hypot(b.x - a.x, b.y - a.y); }

Polyline::Polyline(const std::vector<Position>& corners, double driven_length)
    : length_{driven_length} {
  if (corners.empty() || !(driven_length > 0)) {
    throw std::invalid_argument("a polyline needs a corner and a driven length above 0");
  }
  for (const Position& corner : corners) {
    if (corners_.empty() || !(corner == corners_.back())) corners_.push_back(corner);
  }
  if (corners_.size() == 1) {
    driven_ = {0.0};
    headings_ = {0.0};
    return;
  }
  driven_.push_back(0.0);
  for (std::size_t i = 1; i < corners_.size(); ++i) {
    const Position& a = corners_[i - 1];
    const Position& b = corners_[i];
    driven_.push_back(driven_.back() + distance(a, b));
    headings_.push_back(std::atan2(b.y - a.y, b.x - a.x));
  }
  const double scale = length_ / driven_.back();
  for (double& d : driven_) d *= scale;
  driven_.back() = length_;
}

Spot Polyline::at(double driven) const {
  const auto straight_on = [](Position from, double heading, double by) {
    return Spot{{from.x + by * std::cos(heading), from.y + by * std::sin(heading)}, heading};
  };
  if (driven < 0 || corners_.size() == 1) {
    return straight_on(corners_.front(), headings_.front(), std::min(driven, 0.0));
  }
  if (driven >= length_) {
    return straight_on(corners_.back(), headings_.back(), driven - length_);
  }
  const auto after = std::upper_bound(driven_.begin(), driven_.end(), driven);
  const auto leg = static_cast<std::size_t>(after - driven_.begin()) - 1;
  const double part = (driven - driven_[leg]) / (driven_[leg + 1] - driven_[leg]);
  const Position& a = corners_[leg];
  const Position& b = corners_[leg + 1];
  return {{a.x + part * (b.x - a.x), a.y + part * (b.y - a.y)}, headings_[leg]};
}

Polyline tape_of(const Floor& floor, SegmentIx segment, bool reversed) {
  const Segment& s = floor[segment];
  std::vector<Position> corners;
  corners.reserve(s.via.size() + 2);
  corners.push_back(floor[s.from].at);
  corners.insert(corners.end(), s.via.begin(), s.via.end());
  corners.push_back(floor[s.to].at);
  if (reversed) std::reverse(corners.begin(), corners.end());
  return {corners, static_cast<double>(s.length.value)};
}

void TapePath::append(Polyline tape) {
  starts_.push_back(end_);
  end_ += tape.length();
  tapes_.push_back(std::move(tape));
}

Spot TapePath::at(double driven) const {
  const auto after = std::upper_bound(starts_.begin(), starts_.end(), driven);
  const auto index = after == starts_.begin()
                         ? std::size_t{0}
                         : static_cast<std::size_t>(after - starts_.begin()) - 1;
  return tapes_.at(index).at(driven - starts_[index]);
}

}  // namespace tagline::floor
