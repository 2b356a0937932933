// How fast a cart may go on before a place where it must be slow, or halt. Whole numbers only.
#pragma once

#include <stdint.h>

namespace tagline {
namespace cart {

/// Highest speed from which the cart can come down to `then` within `distance` (mm; none left if
/// not above 0), mm/s. Plans with four fifths of the brakes, so that the real ones can follow.
uint16_t speed_before(uint16_t then, int32_t distance, uint16_t deceleration);

/// Start of creeping before a halt, for a distance since the last tag, mm.
int32_t creep_stretch(int32_t distance);

/// How far behind a place where it must halt it gives up, for a distance since the last tag, mm.
/// Never less than what an odometer true to 0.5 % may count too much, so as not to stop short of
/// the tag; otherwise as little as may be.
int32_t overrun_margin(int32_t distance);

}  // namespace cart
}  // namespace tagline
