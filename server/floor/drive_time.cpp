// See drive_time.hpp.
#include "server/floor/drive_time.hpp"

#include <algorithm>

namespace tagline::floor {
namespace {

/// The largest whole number whose square is not above `square`.
std::int64_t root(std::int64_t square) {
  if (square <= 0) return 0;
  std::int64_t low = 0;
  std::int64_t high = 3'037'000'499;  // its square still fits
  while (low < high) {
    const std::int64_t middle = low + (high - low + 1) / 2;
    if (middle <= square / middle) {
      low = middle;
    } else {
      high = middle - 1;
    }
  }
  return low;
}

}  // namespace

Duration lost_setting_off(MmPerS speed, const CartBody& cart) {
  return Duration{speed.value * 1000 / (2 * cart.acceleration.value)};
}

Duration lost_stopping(MmPerS speed, const CartBody& cart) {
  return Duration{speed.value * 1000 / (2 * cart.deceleration.value)};
}

Mm stopping_distance(MmPerS speed, const CartBody& cart) {
  const std::int64_t twice = 2 * cart.deceleration.value;
  return {(speed.value * speed.value + twice - 1) / twice};
}

Duration stand_to_stand(Mm length, MmPerS speed, const CartBody& cart) {
  const std::int64_t a = cart.acceleration.value;
  const std::int64_t d = cart.deceleration.value;
  const std::int64_t square = speed.value * speed.value;
  // L >= v^2/2a + v^2/2d, without fractions.
  if (2 * length.value * a * d >= square * (a + d)) {
    return Duration{length.value * 1000 / speed.value} + lost_setting_off(speed, cart) +
           lost_stopping(speed, cart);
  }
  // 2 L (a + d) / (a d) in ms^2.
  return Duration{root(2 * length.value * (a + d) * 1'000'000 / (a * d))};
}

Duration leg_time(Duration cruise, Mm length, MmPerS slowest, const CartBody& cart) {
  if (length.value <= 0) return cruise;
  // No more than what the ramps cost at `slowest`: rounded up here, as stand_to_stand() is down.
  const Duration ideal = stand_to_stand(length, slowest, cart);
  return cruise + std::max(Duration{0}, ideal - time_to_drive(length, slowest));
}

}  // namespace tagline::floor
