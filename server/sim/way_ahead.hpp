// From what a cart of a fast run is told to the tape ahead of it: which tape each step follows, and
// how fast it may be driven.
#pragma once

#include <vector>

#include "server/sim/cart_habits.hpp"
#include "server/sim/cart_motion.hpp"
#include "server/sim/cart_trip.hpp"

namespace tagline::sim {

/// The way on from a pose that a cart takes which follows the tape and is told this branch: the
/// straightest of that branch, else the straightest; of those that turn on the spot, or of those
/// that don't. Null if there is none.
const floor::Move* way_on(const TapeTable& tapes, PoseIx from, floor::Branch branch, bool turn);

/// Lays out the legs from the reader to the point of step `last` (which must be told, in the gear
/// that the cart is in), and puts how they may be driven into `stretches`. False: no tape there.
bool lay_way_ahead(double now, control::Step last, const CartTrip& trip, CartMotion& motion,
                   CartHabits& habits, std::vector<Stretch>& stretches);

}  // namespace tagline::sim
