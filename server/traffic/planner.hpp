// The traffic planner: proposes, never decides. Its worst mistake costs time; the guard keeps
// everything else. Here still simple: it looks for a passing order by a handful of cheap recipes
// and takes the first that the run-through accepts; a recipe that would save waiting time is not
// looked for.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

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

/// A grant that could be proposed for a cart, or what is in its way.
struct GrantProposal {
  std::size_t count{};
  Order order;
  std::optional<Obstacle> obstacle;  // set if count == 0
};

/// The longest grant, at most `wanted` steps, that is clear now and leaves everybody a way out. It
/// ends at a point with a tag: a cart can't be seen to stop elsewhere.
/// `overdue`: carts that have waited long. Where one of them comes before `cart` in the present
/// order, `cart` is not let onto track that it needs next, so nobody is overtaken for ever.
GrantProposal propose_grant(const Guard& guard, CartIx cart, std::size_t wanted,
                            std::span<const CartIx> overdue);

}  // namespace tagline::traffic
