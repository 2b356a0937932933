// Floors without sidings, where idle carts must move on ahead of working ones.
#pragma once

#include <optional>
#include <vector>

#include "server/traffic/guard.hpp"

namespace tagline::traffic {

/// A way for `cart` along `steps` (from the end of its authority), with whatever the others must do
/// for it: carts on their way go on with it, carts at the end of theirs are sent on, ahead of those
/// that come, as far as needed. The changes bring everybody to an end of its way; where that is on
/// a loop does not matter as long as there are no more carts than live_limit() allows: somebody can
/// always move, whoever stands where.
/// A cart without an itinerary is taken to be set down at steps[0].
/// `needed`: per cart, how many of its steps beyond its authority it must still go; what it had
/// planned beyond, only to be out of somebody's way, is planned anew. `sequence`: who is brought to
/// its end before whom on paper, and so goes first where they meet; `cart` and all known ones.
/// `movable`: per cart, whether
/// it may be sent on. Nothing if a cart that may not is in the way.
///
/// The way is played through on paper: the cart steps on; what is in its way makes way first, and
/// what is in the way of that before it. It can't run in a circle with so few carts.
std::optional<std::vector<Change>> propose_moving_on(const Guard& guard, CartIx cart,
                                                     const std::vector<PoseIx>& steps,
                                                     const std::vector<std::size_t>& needed,
                                                     const std::vector<CartIx>& sequence,
                                                     const std::vector<bool>& movable);

/// The least number of carts that can lock each other in on this floor, each standing where a cart
/// can stand and wanting to go on to where the next one is in its way; nothing if no number can.
/// The shortest circle in "p is kept from moving by q", found by breadth-first searches.
std::optional<std::size_t> fewest_in_a_jam(const floor::Track& track);

}  // namespace tagline::traffic
