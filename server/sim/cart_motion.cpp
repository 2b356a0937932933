// See cart_motion.hpp.
#include "server/sim/cart_motion.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {

CartMotion::CartMotion(const TapeTable& tapes, PoseIx standing)
    : tapes_{&tapes},
      walk_{tapes, standing},
      top_speed_{static_cast<double>(measures().speed.value) * tapes.most_scale()},
      from_x_{walk_.home().end()} {}

DriveLimits CartMotion::limits() const {
  return {static_cast<double>(measures().acceleration.value),
          static_cast<double>(measures().deceleration.value)};
}

double CartMotion::turn_offset() const {
  return std::max(0.0, static_cast<double>(measures().length.value) / 2 -
                           static_cast<double>(measures().reader_to_nose.value));
}

Rectangle CartMotion::body(double now) const {
  if (!turning()) return walk_.body(reader(now));
  const double part = std::clamp((now - turn_began_) / (turn_ends_ - turn_began_), 0.0, 1.0);
  const double before = std::atan2(turn_from_.along.y, turn_from_.along.x);
  const double after = std::atan2(turn_to_.along.y, turn_to_.along.x);
  const double heading = before + part * floor::turn_between(before, after);
  Rectangle body = turn_from_;
  body.centre.x += part * (turn_to_.centre.x - turn_from_.centre.x);
  body.centre.y += part * (turn_to_.centre.y - turn_from_.centre.y);
  body.along = {std::cos(heading), std::sin(heading)};
  return body;
}

double CartMotion::swing_speed() const {
  const double takes = turn_ends_ - turn_began_;
  const double angle = floor::turn_between(std::atan2(turn_from_.along.y, turn_from_.along.x),
                                           std::atan2(turn_to_.along.y, turn_to_.along.x));
  const double drift = floor::distance(turn_from_.centre, turn_to_.centre);
  return (std::abs(angle) * std::hypot(turn_from_.length, turn_from_.width) / 2 + drift) / takes;
}

std::optional<double> CartMotion::next_point() const {
  if (!driving()) return {};
  double to = 0;
  if (direction_ > 0) {
    const TapeWalk::Leg* next = walk_.ahead(1);
    if (next == nullptr || !next->pose) return {};
    to = next->end() - from_x_;
  } else {
    to = from_x_ - walk_.home().start;
  }
  if (to > profile_.length() + figures::least_drive_mm) return {};
  return profile_.time_at(to);
}

void CartMotion::set_on(double now, PoseIx standing) {
  walk_.set_on(standing);
  profile_.stand(now);
  taken_ = 0;
  from_x_ = walk_.home().end();
  doing_ = Doing::standing;
  turn_ends_ = never;
  stirred_ = true;
}

void CartMotion::push_home() {
  from_x_ = walk_.home().end();
  stirred_ = true;
}

void CartMotion::go(double now, double speed, std::span<const Stretch> stretches,
                    double direction) {
  direction_ = direction;
  from_x_ = reader(now);
  taken_ = 0;
  profile_.drive(now, speed, stretches, limits());
  if (!driving()) stirred_ = true;
  doing_ = Doing::driving;
}

bool CartMotion::brake(double now) {
  const double speed = profile_.speed(now);
  from_x_ = reader(now);
  taken_ = 0;
  profile_.brake(now, speed, limits());
  return speed > 0;
}

void CartMotion::stand(double now) {
  from_x_ = reader(now);
  profile_.stand(now);
  taken_ = 0;
  doing_ = Doing::standing;
}

void CartMotion::pass_point() {
  if (direction_ > 0) {
    walk_.pass_forward();
  } else {
    walk_.pass_backward();
  }
}

void CartMotion::start_turning(double now, const floor::Move& move) {
  turn_move_ = &move;
  turn_from_ = body(now);
  TapeWalk after = walk_;
  turn_to_ = after.body(after.turn_into(move, turn_offset(), 1));
  turn_began_ = now;
  turn_ends_ = now + std::chrono::duration<double>(floor::turn_round_time).count();
  doing_ = Doing::turning;
  stirred_ = true;
}

void CartMotion::end_turning(double leg_factor) {
  from_x_ = walk_.turn_into(*turn_move_, turn_offset(), leg_factor);
  turn_ends_ = never;
  doing_ = Doing::standing;
  stirred_ = true;
}

double CartMotion::take_driven(double now) {
  if (!driving()) return 0;
  const double gone = profile_.distance(now);
  const double since = gone - taken_;
  taken_ = gone;
  return since;
}

}  // namespace tagline::sim
