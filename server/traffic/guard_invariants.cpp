// The guard's invariants, worked out from nothing. See guard.hpp.
#include <algorithm>
#include <stdexcept>

#include "server/traffic/guard.hpp"
#include "server/traffic/run_through.hpp"

namespace tagline::traffic {
namespace {

/// I5 is worked out from nothing once per so many carts' worth of changed plans.
constexpr std::size_t carts_per_check = 16;

}  // namespace

bool Guard::completes(const Order& order, CartIx changed, const Itinerary& instead) const {
  RunThrough run(*track_, carts_.size());
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    const Itinerary* itinerary = CartIx{i} == changed ? &instead : this->itinerary({i});
    if (itinerary != nullptr && !run.put({i}, itinerary->steps, itinerary->authority)) return false;
  }
  return std::ranges::all_of(order, [&](CartIx cart) { return run.advance(cart); }) &&
         run.all_at_end();
}

void Guard::assert_holdings(CartIx ix) const {
  const Cart& cart = carts_[ix.value];
  if (!cart.itinerary) return;
  for (std::size_t s = 0; s <= cart.itinerary->authority; ++s) {
    for (const PieceIx piece : track_->cover(cart.itinerary->steps[s])) {
      if (cart.holds[piece.value] == 0) {
        throw std::logic_error("guard: authority on track that isn't held (I2)");
      }
    }
  }
  const auto clear = [&](PieceIx piece) {
    return std::ranges::all_of(holders_[piece.value], [&](CartIx other) {
      return other == ix || !carts_[other.value].itinerary;
    });
  };
  for (const PieceIx piece : cart.held) {
    if (!clear(piece) || !std::ranges::all_of(track_->conflicts(piece), clear)) {
      throw std::logic_error("guard: two carts hold conflicting track (I1)");
    }
  }
}

void Guard::assert_invariants() const {
  for (std::uint32_t i = 0; i < carts_.size(); ++i) assert_holdings({i});
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    if (!carts_[i].itinerary) continue;
    if (!completes(order(), {i}, *carts_[i].itinerary)) {
      throw std::logic_error("guard: no way out for everybody any more (I5)");
    }
    return;
  }
}

void Guard::assert_recent() {
  for (const CartIx cart : changed_) {
    carts_[cart.value].changed = false;
    assert_holdings(cart);
  }
  changed_.clear();
  if (static_cast<std::size_t>(plans_since_check_) * carts_per_check >= carts_.size() &&
      plans_since_check_ > 0) {
    plans_since_check_ = 0;
    assert_invariants();
  }
}

}  // namespace tagline::traffic
