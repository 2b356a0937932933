// See free_way.hpp.
#include "server/dispatch/free_way.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numbers>
#include <queue>
#include <utility>

#include "server/floor/body.hpp"
#include "server/floor/polyline.hpp"

namespace tagline::dispatch {
namespace {

double number(std::int64_t value) { return static_cast<double>(value); }

bool halts_between(const floor::Move& before, const floor::Move& after) {
  return before.gear != after.gear || after.turn_round;
}

}  // namespace

FreeWay::FreeWay(const floor::Ways& ways)
    : ways_{&ways},
      a_{number(ways.floor().cart.acceleration.value)},
      d_{number(ways.floor().cart.deceleration.value)} {
  const floor::Floor& floor = ways.floor();
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    first_.push_back(drives_.size());
    for (const floor::Move& move : ways.moves_from(PoseIx{p})) {
      const double v = number(std::min(floor[move.segment].speed, floor.cart.speed).value);
      const double length = number(move.length.value);
      drives_.push_back({move, v, length, length / v + (move.turn_round ? least_turn(move) : 0)});
    }
  }
  first_.push_back(drives_.size());
}

/// turn_round_time is for half a turn. A turn through less takes less: at least the sharpest corner
/// that needs none, and the whole of it only where the body lies straight on the tape behind.
double FreeWay::least_turn(const floor::Move& move) const {
  const floor::Floor& floor = ways_->floor();
  const floor::Pose& pose = (*ways_)[move.from];
  const double half_turn = std::chrono::duration<double>(floor::turn_round_time).count();
  const double shortest = half_turn * floor::sharpest_corner_deg / 180;
  if (move.segment != pose.by) return shortest;
  const floor::Polyline tape = floor::tape_of(floor, pose.by, pose.reversed);
  const floor::Spot tail = tape.at(tape.length() - floor::reader_to_tail(floor.cart));
  const floor::Spot reader = tape.at(tape.length());
  const double chord = std::atan2(reader.at.y - tail.at.y, reader.at.x - tail.at.x);
  const bool straight = std::abs(floor::turn_between(chord, tape.end_heading())) < 1e-3;
  return straight ? half_turn : shortest;
}

double FreeWay::loss(const Drive& drive, double slow, double rate, double other_rate) const {
  if (slow >= drive.v) return 0;
  const double ramp = (drive.v * drive.v - slow * slow) / (2 * rate);
  const double x = std::min(ramp, drive.length * other_rate / (rate + other_rate));
  return std::max(0.0, (std::sqrt(slow * slow + 2 * rate * x) - slow) / rate - x / drive.v);
}

double FreeWay::entering(const Drive& drive, double u) const { return loss(drive, u, a_, d_); }

double FreeWay::leaving(const Drive& drive, double u) const { return loss(drive, u, d_, a_); }

std::vector<double> FreeWay::from(std::span<const PoseIx> starts,
                                  const std::vector<PoseIx>* within) const {
  const auto held = [&](PoseIx pose) {
    return within == nullptr || std::binary_search(within->begin(), within->end(), pose);
  };
  std::vector<bool> touched, ends_within;
  for (const Drive& drive : drives_) {
    ends_within.push_back(held(drive.move.to));
    touched.push_back(ends_within.back() || held(drive.move.from));
  }
  const auto driving = [&](std::size_t i, double u) {
    return touched[i] ? drives_[i].cruise + entering(drives_[i], u) : 0.0;
  };
  const auto braking = [&](std::size_t i, double u) {
    return ends_within[i] ? leaving(drives_[i], u) : 0.0;
  };
  std::vector<double> result(ways_->pose_count(), no_way);
  std::vector<double> best(drives_.size(), no_way);  // up to the end of a drive, still at speed
  using Entry = std::pair<double, std::size_t>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  const auto reach = [&](std::size_t i, double time) {
    if (time >= best[i]) return;
    best[i] = time;
    queue.emplace(time, i);
  };
  for (const PoseIx start : starts) {
    result[start.value] = 0;
    for (std::size_t i = first_[start.value]; i < first_[start.value + 1]; ++i) {
      reach(i, driving(i, 0));
    }
  }
  while (!queue.empty()) {
    const auto [time, i] = queue.top();
    queue.pop();
    if (time > best[i]) continue;
    const Drive& here = drives_[i];
    double& stand = result[here.move.to.value];
    stand = std::min(stand, time + braking(i, 0));
    for (std::size_t j = first_[here.move.to.value]; j < first_[here.move.to.value + 1]; ++j) {
      const Drive& next = drives_[j];
      const double u = halts_between(here.move, next.move) ? 0 : std::min(here.v, next.v);
      reach(j, time + braking(i, u) + driving(j, u));
    }
  }
  return result;
}

}  // namespace tagline::dispatch
