// Orders of turns found by trial, without regard to time: for carts that must be fitted in as they
// stand, and as the planner's last resort.
#pragma once

#include <optional>

#include "server/traffic/guard.hpp"

namespace tagline::traffic {

/// An order that completes when `cart` has `instead` (and all others what they have), or nothing if
/// none of the recipes finds one. Tried in turn: `cart` goes first; `cart` keeps its turns; `cart`
/// goes last; then a search from nothing (each in turn as far as it can, in several sequences; all
/// in step). Deterministic.
std::optional<Order> find_order(const Guard& guard, CartIx cart, const Itinerary& instead);

/// The same, and if none of the recipes finds one, a search through the states that can be reached
/// (at most 20,000 of them). For the rare moments when a cart must be fitted in as it stands.
std::optional<Order> find_order_thoroughly(const Guard& guard, CartIx cart,
                                           const Itinerary& instead);

}  // namespace tagline::traffic
