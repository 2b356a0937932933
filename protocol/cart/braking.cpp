// Speeds from distances: v^2 = u^2 + 2 a s.
#include "protocol/cart/braking.hpp"

namespace tagline {
namespace cart {

namespace {

/// Whole part of the square root, bit by bit.
uint16_t root(uint32_t square) {
  uint32_t result = 0;
  uint32_t bit = uint32_t{1} << 30;
  while (bit > square) bit >>= 2;
  while (bit != 0) {
    if (square >= result + bit) {
      square -= result + bit;
      result = (result >> 1) + bit;
    } else {
      result >>= 1;
    }
    bit >>= 2;
  }
  return static_cast<uint16_t>(result);
}

}  // namespace

uint16_t speed_before(uint16_t then, int32_t distance, uint16_t deceleration) {
  if (distance <= 0) return then;
  // Beyond 20 m nothing limits; keeps the product within 32 bits for decelerations to 6 m/s2.
  if (distance > 20000) distance = 20000;
  const uint32_t braking = static_cast<uint32_t>(deceleration) * 8u / 5u;
  return root(static_cast<uint32_t>(then) * then + braking * static_cast<uint32_t>(distance));
}

int32_t creep_stretch(int32_t distance) { return 60 + distance / 50; }

int32_t overrun_margin(int32_t distance) {
  if (distance <= 9000) return 60;
  const int32_t more = (distance - 9000) / 200;
  return 60 + (more < 30 ? more : 30);
}

}  // namespace cart
}  // namespace tagline
