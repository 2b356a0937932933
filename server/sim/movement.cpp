// See movement.hpp.
#include "server/sim/movement.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace tagline::sim {
namespace {

/// So often a moving cart is looked at between two things that happen to it, s.
constexpr double look_every_s = 0.5;

Sighting see(const FleetCart& cart, double at) {
  const Rectangle body = cart.body(at);
  const double nose = std::atan2(body.along.y, body.along.x) * 180 / std::numbers::pi;
  return {at, body.centre, nose, cart.spending(), cart.loaded()};
}

/// The smaller of the two turns from one direction to the other, degrees.
double turn(double from, double to) { return std::remainder(to - from, 360); }

/// `between` is where the straight line from `a` to `b` has it.
bool on_line(const Sighting& a, const Sighting& b, const Sighting& between) {
  if (between.doing != a.doing || between.loaded != a.loaded) return false;
  const double span = b.at_s - a.at_s;
  const double part = span > 0 ? (between.at_s - a.at_s) / span : 0;
  const double x = a.centre.x + part * (b.centre.x - a.centre.x);
  const double y = a.centre.y + part * (b.centre.y - a.centre.y);
  const double nose = a.nose + part * turn(a.nose, b.nose);
  return std::hypot(between.centre.x - x, between.centre.y - y) <= MovementRecorder::off_mm &&
         std::abs(turn(nose, between.nose)) <= MovementRecorder::off_degrees;
}

}  // namespace

MovementRecorder::MovementRecorder(std::size_t carts, Bounds bounds)
    : bounds_{bounds}, lines_(carts) {}

void MovementRecorder::follow(CartIx ix, const FleetCart& cart, double now) {
  if (full_) return;
  if (now > bounds_.seconds || kept_ >= bounds_.sightings) {
    full_ = true;
    until_s_ = std::min(now, bounds_.seconds);
    return;
  }
  Line& line = lines_[ix.value];
  confirm(line, now);
  add(line, see(cart, now));
  if (cart.still()) return;
  for (int k = 1; now + k * look_every_s < cart.due(); ++k)
    line.ahead.push_back(see(cart, now + k * look_every_s));
}

void MovementRecorder::confirm(Line& line, double until) {
  for (const Sighting& seen : line.ahead)
    if (seen.at_s <= until) add(line, seen);
  line.ahead.clear();
}

void MovementRecorder::add(Line& line, const Sighting& seen) {
  if (line.kept.empty()) return keep(line, seen);
  const Sighting& last = line.kept.back();
  const bool all_on_line = std::ranges::all_of(
      line.open, [&](const Sighting& open) { return on_line(last, seen, open); });
  if (!all_on_line) {
    keep(line, line.open.back());
    line.open.clear();
  }
  line.open.push_back(seen);
}

void MovementRecorder::keep(Line& line, const Sighting& seen) {
  line.kept.push_back(seen);
  ++kept_;
}

Movement MovementRecorder::end(double now) {
  if (!full_) until_s_ = std::min(now, bounds_.seconds);
  Movement movement{until_s_, {}};
  for (Line& line : lines_) {
    confirm(line, until_s_);
    if (!line.open.empty()) keep(line, line.open.back());
    movement.carts.push_back(std::move(line.kept));
  }
  return movement;
}

}  // namespace tagline::sim
