// See drive_profile.hpp.
#include "server/sim/drive_profile.hpp"

#include <algorithm>
#include <cmath>

namespace tagline::sim {
namespace {

/// Rounding of a double may make a stretch this much too short to count, mm.
constexpr double nothing = 1e-9;

}  // namespace

void DriveProfile::stand(double now) {
  phases_.clear();
  end_ = now;
  length_ = 0;
}

void DriveProfile::add(double distance, double speed, double acceleration, double after) {
  if (distance <= nothing) {
    length_ += std::max(0.0, distance);
    return;
  }
  phases_.push_back({end_, length_, speed, acceleration});
  // The mean of both speeds covers the distance, whatever the acceleration.
  end_ += 2 * distance / (speed + after);
  length_ += distance;
}

void DriveProfile::drive(double now, double speed, std::span<const Stretch> stretches,
                         DriveLimits limits) {
  stand(now);
  const double a = limits.acceleration;
  const double d = limits.deceleration;
  // Backward: how fast each stretch may be entered so that all after it can be kept.
  entry_.assign(stretches.size() + 1, 0.0);
  for (std::size_t i = stretches.size(); i-- > 0;) {
    const Stretch& s = stretches[i];
    double most = std::sqrt(entry_[i + 1] * entry_[i + 1] + 2 * d * s.length);
    most = std::min(most, s.limit);
    if (i > 0) most = std::min(most, stretches[i - 1].limit);
    entry_[i] = most;
  }
  double v = speed;
  for (std::size_t i = 0; i < stretches.size(); ++i) {
    const Stretch& s = stretches[i];
    double left = s.length;
    if (v > s.limit) {
      const double slower = std::sqrt(std::max(v * v - 2 * d * left, s.limit * s.limit));
      const double braking = std::min(left, (v * v - slower * slower) / (2 * d));
      add(braking, v, -d, slower);
      left -= braking;
      v = slower;
    }
    if (left <= nothing) continue;
    const double out_most = std::min(s.limit, entry_[i + 1]);
    const double reach = std::sqrt(v * v + 2 * a * left);
    if (reach <= out_most) {
      add(left, v, a, reach);
      v = reach;
      continue;
    }
    const double out = out_most;
    double top = std::sqrt((2 * a * d * left + d * v * v + a * out * out) / (a + d));
    top = std::max({std::min(top, s.limit), v, out});
    const double up = (top * top - v * v) / (2 * a);
    const double down = (top * top - out * out) / (2 * d);
    add(std::min(up, left), v, a, top);
    add(left - up - down, top, 0, top);
    add(std::min(down, left), top, -d, out);
    v = out;
  }
  // The sums above are exact but for rounding; the end is where the stretches end.
  length_ = 0;
  for (const Stretch& s : stretches) length_ += s.length;
}

void DriveProfile::brake(double now, double speed, DriveLimits limits) {
  stand(now);
  add(speed * speed / (2 * limits.deceleration), speed, -limits.deceleration, 0);
}

const DriveProfile::Phase& DriveProfile::at(double time) const {
  std::size_t i = phases_.size() - 1;
  while (i > 0 && phases_[i].time > time) --i;
  return phases_[i];
}

double DriveProfile::distance(double time) const {
  if (phases_.empty() || time >= end_) return length_;
  const Phase& p = at(time);
  const double gone = std::max(0.0, time - p.time);
  return std::min(length_, p.distance + p.speed * gone + p.acceleration * gone * gone / 2);
}

double DriveProfile::speed(double time) const {
  if (phases_.empty() || time >= end_) return 0;
  const Phase& p = at(time);
  return std::max(0.0, p.speed + p.acceleration * std::max(0.0, time - p.time));
}

double DriveProfile::time_at(double distance) const {
  if (phases_.empty() || distance >= length_ - nothing) return end_;
  std::size_t i = phases_.size() - 1;
  while (i > 0 && phases_[i].distance > distance) --i;
  const Phase& p = phases_[i];
  const double gone = distance - p.distance;
  if (gone <= 0) return p.time;
  const double after = std::sqrt(std::max(0.0, p.speed * p.speed + 2 * p.acceleration * gone));
  const double most = i + 1 < phases_.size() ? phases_[i + 1].time : end_;
  return std::min(most, p.time + 2 * gone / (p.speed + after));
}

}  // namespace tagline::sim
