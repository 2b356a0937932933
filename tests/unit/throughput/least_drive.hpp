// The least time of a drive over stretches of given speed, from stand to stand, by another method
// than the code under test: the highest speed possible at every millimetre, found by one pass
// forward (acceleration) and one backward (braking), then summed up.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::test {

struct Stretch {
  double length{};  // mm
  double speed{};   // mm/s
};

/// Seconds. Exact but for steps of a sixteenth of a millimetre, in which the square of the speed is
/// linear (so it is exact wherever one limit holds through a step).
inline double least_drive(const std::vector<Stretch>& leg, const floor::CartBody& cart) {
  constexpr double step = 1.0 / 16;
  const auto a = static_cast<double>(cart.acceleration.value);
  const auto d = static_cast<double>(cart.deceleration.value);
  std::vector<double> limit;  // of the step
  for (const Stretch& s : leg) {
    limit.insert(limit.end(), static_cast<std::size_t>(std::llround(s.length / step)), s.speed);
  }
  std::vector<double> square(limit.size() + 1, 0);  // of the speed, at the ends of the steps
  for (std::size_t i = 1; i < limit.size(); ++i) {
    const double most = std::min(limit[i - 1], limit[i]);
    square[i] = std::min(most * most, square[i - 1] + 2 * a * step);
  }
  for (std::size_t i = limit.size(); i-- > 0;) {
    square[i] = std::min(square[i], square[i + 1] + 2 * d * step);
  }
  double time = 0;
  for (std::size_t i = 0; i < limit.size(); ++i) {
    time += 2 * step / (std::sqrt(square[i]) + std::sqrt(square[i + 1]));
  }
  return time;
}

}  // namespace tagline::test
