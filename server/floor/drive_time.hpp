// Driving times with acceleration and braking. Whole numbers only, so that they can take part in
// decisions.
#pragma once

#include "server/floor/floor.hpp"

namespace tagline::floor {

/// Time to drive `length` mm from a stand to a stand, never faster than `speed`, ms, rounded down
/// (each of three terms, so up to 3 ms low):
///   L >= v^2/2a + v^2/2d :  L/v + v/2a + v/2d
///   shorter              :  sqrt(2 L (a + d) / (a d))      (v is never reached)
/// from the equations of uniformly accelerated motion. No cart is faster.
Duration stand_to_stand(Mm length, MmPerS speed, const CartBody& cart);

/// What a whole leg takes from stand to stand, ms: `cruise` is the sum of its moves at their own
/// speeds and turns, `slowest` the least of these speeds: setting off and stopping then cost at
/// least what they cost at that speed, so this is never more than the true least time but for
/// cruise's own rounding (up to 1 ms a move), and equal to it where all speeds are alike. Going
/// from a slow segment to a faster one costs some more, which is left out.
Duration leg_time(Duration cruise, Mm length, MmPerS slowest, const CartBody& cart);

/// What setting off from a stand, and coming to one, cost beyond driving at `speed`: v/2a and v/2d.
Duration lost_setting_off(MmPerS speed, const CartBody& cart);
Duration lost_stopping(MmPerS speed, const CartBody& cart);

/// Distance in which a cart comes to a stand from `speed`: v^2 / 2d, mm, rounded up.
Mm stopping_distance(MmPerS speed, const CartBody& cart);

}  // namespace tagline::floor
