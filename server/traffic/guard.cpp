// See guard.hpp.
#include "server/traffic/guard.hpp"

#include <algorithm>
#include <stdexcept>

#include "server/traffic/run_through.hpp"

namespace tagline::traffic {

using Kind = Obstacle::Kind;

Guard::Guard(const floor::Track& track, std::size_t carts)
    : track_(&track), carts_(carts), holders_(track.piece_count()) {
  for (Cart& cart : carts_) cart.holds.assign(track.piece_count(), 0);
}

// ---- proposals -------------------------------------------------------------------------------

std::optional<Obstacle> Guard::place(CartIx cart, Itinerary itinerary, Order order) {
  Cart& state = carts_[cart.value];
  if (state.itinerary || !well_formed(itinerary)) return Obstacle{Kind::malformed, {}, {}};
  // Only known carts stand in the way here: a cart in doubt holds more than it is on, and it is
  // the evidence for this cart that makes the guess about the other one smaller, not larger.
  // Whoever acts on a person's word alone asks obstacle() first, which counts doubt as occupied.
  for (std::size_t i = 0; i <= itinerary.authority; ++i) {
    for (std::uint32_t other = 0; other < carts_.size(); ++other) {
      if (other == cart.value || !carts_[other].itinerary) continue;
      for (const PieceIx piece : track_->cover(itinerary.steps[i])) {
        const auto held = [&](PieceIx p) { return carts_[other].holds[p.value] > 0; };
        if (held(piece) || std::ranges::any_of(track_->conflicts(piece), held)) {
          return Obstacle{Kind::held, piece, {other}};
        }
      }
    }
  }
  if (!completes(order, cart, itinerary)) return Obstacle{Kind::no_way_out, {}, {}};
  release_all(cart);
  state.doubt = false;
  for (std::size_t i = 0; i <= itinerary.authority; ++i) {
    hold(cart, track_->cover(itinerary.steps[i]));
  }
  state.itinerary = std::move(itinerary);
  order_ = std::move(order);
  return {};
}

std::optional<Obstacle> Guard::reroute(CartIx cart, std::span<const PoseIx> tail, Order order) {
  Cart& state = carts_[cart.value];
  if (!state.itinerary) return Obstacle{Kind::malformed, {}, {}};
  Itinerary next = *state.itinerary;
  next.steps.resize(next.authority + 1);
  next.steps.insert(next.steps.end(), tail.begin(), tail.end());
  if (!well_formed(next)) return Obstacle{Kind::malformed, {}, {}};
  if (!completes(order, cart, next)) return Obstacle{Kind::no_way_out, {}, {}};
  state.itinerary = std::move(next);
  order_ = std::move(order);
  return {};
}

std::optional<Obstacle> Guard::grant(CartIx cart, std::size_t count, Order order) {
  Cart& state = carts_[cart.value];
  if (!state.itinerary || count > state.itinerary->ahead()) {
    return Obstacle{Kind::malformed, {}, {}};
  }
  Itinerary next = *state.itinerary;
  next.authority += count;
  for (std::size_t i = state.itinerary->authority + 1; i <= next.authority; ++i) {
    if (const auto found = obstacle(cart, track_->cover(next.steps[i]))) return found;
  }
  if (!completes(order, cart, next)) return Obstacle{Kind::no_way_out, {}, {}};
  for (std::size_t i = state.itinerary->authority + 1; i <= next.authority; ++i) {
    hold(cart, track_->cover(next.steps[i]));
  }
  state.itinerary = std::move(next);
  order_ = std::move(order);
  return {};
}

// ---- facts -----------------------------------------------------------------------------------

void Guard::passed(CartIx cart, std::size_t count) {
  Cart& state = carts_[cart.value];
  if (!state.itinerary || count > state.itinerary->authority) {
    throw std::logic_error("guard: a cart passed a point beyond its authority (I2)");
  }
  Itinerary& itinerary = *state.itinerary;
  for (std::size_t i = 0; i < count; ++i) release(cart, track_->cover(itinerary.steps[i]));
  itinerary.steps.erase(itinerary.steps.begin(),
                        itinerary.steps.begin() + static_cast<std::ptrdiff_t>(count));
  itinerary.authority -= count;
}

void Guard::lost(CartIx cart, std::span<const PieceIx> pieces) {
  Cart& state = carts_[cart.value];
  state.itinerary.reset();
  state.doubt = true;
  hold(cart, pieces);
  // Without this cart's advances the rest of the order still runs: one cart fewer is in the way.
  std::erase(order_, cart);
}

void Guard::remove(CartIx cart) {
  release_all(cart);
  carts_[cart.value].itinerary.reset();
  carts_[cart.value].doubt = false;
  std::erase(order_, cart);
}

// ---- books -----------------------------------------------------------------------------------

const Itinerary* Guard::itinerary(CartIx cart) const {
  const auto& itinerary = carts_[cart.value].itinerary;
  return itinerary ? &*itinerary : nullptr;
}

bool Guard::in_doubt(CartIx cart) const { return carts_[cart.value].doubt; }

std::vector<PieceIx> Guard::holdings(CartIx cart) const {
  std::vector<PieceIx> pieces;
  const auto& holds = carts_[cart.value].holds;
  for (std::uint32_t i = 0; i < holds.size(); ++i) {
    if (holds[i] > 0) pieces.push_back({i});
  }
  return pieces;
}

std::optional<Obstacle> Guard::obstacle(CartIx cart, std::span<const PieceIx> pieces) const {
  const auto other_holder = [&](PieceIx piece) -> std::optional<CartIx> {
    for (const CartIx holder : holders_[piece.value]) {
      if (holder != cart) return holder;
    }
    return {};
  };
  for (const PieceIx piece : pieces) {
    if (const auto by = other_holder(piece)) return Obstacle{Kind::held, piece, *by};
    for (const PieceIx rival : track_->conflicts(piece)) {
      if (const auto by = other_holder(rival)) return Obstacle{Kind::held, piece, *by};
    }
  }
  return {};
}

bool Guard::completes(const Order& order, CartIx changed, const Itinerary& instead) const {
  RunThrough run(*track_, carts_.size());
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    const Itinerary* itinerary = CartIx{i} == changed ? &instead : this->itinerary({i});
    if (itinerary != nullptr && !run.put({i}, itinerary->steps, itinerary->authority)) return false;
  }
  return std::ranges::all_of(order, [&](CartIx cart) { return run.advance(cart); }) &&
         run.all_at_end();
}

void Guard::assert_invariants() const {
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    const Cart& cart = carts_[i];
    if (!cart.itinerary) continue;
    for (std::size_t s = 0; s <= cart.itinerary->authority; ++s) {
      for (const PieceIx piece : track_->cover(cart.itinerary->steps[s])) {
        if (cart.holds[piece.value] == 0) throw std::logic_error("guard: I2 broken");
      }
    }
    for (const PieceIx piece : holdings({i})) {
      for (std::uint32_t other = 0; other < carts_.size(); ++other) {
        if (other == i || carts_[other].doubt) continue;
        const auto held = [&](PieceIx p) { return carts_[other].holds[p.value] > 0; };
        if (held(piece) || std::ranges::any_of(track_->conflicts(piece), held)) {
          throw std::logic_error("guard: I1 broken: " + track_->name(piece));
        }
      }
    }
  }
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    if (const Itinerary* any = itinerary({i})) {
      if (!completes(order_, {i}, *any)) throw std::logic_error("guard: I5 broken");
      return;
    }
  }
}

// ---- holding ---------------------------------------------------------------------------------

void Guard::hold(CartIx cart, std::span<const PieceIx> pieces) {
  for (const PieceIx piece : pieces) {
    if (carts_[cart.value].holds[piece.value]++ == 0) holders_[piece.value].push_back(cart);
  }
}

void Guard::release(CartIx cart, std::span<const PieceIx> pieces) {
  for (const PieceIx piece : pieces) {
    if (--carts_[cart.value].holds[piece.value] == 0) std::erase(holders_[piece.value], cart);
  }
}

void Guard::release_all(CartIx cart) {
  auto& holds = carts_[cart.value].holds;
  for (std::uint32_t i = 0; i < holds.size(); ++i) {
    if (holds[i] > 0) std::erase(holders_[i], cart);
    holds[i] = 0;
  }
}

bool Guard::well_formed(const Itinerary& itinerary) const {
  if (itinerary.steps.empty() || itinerary.authority >= itinerary.steps.size()) return false;
  for (std::size_t i = 1; i < itinerary.steps.size(); ++i) {
    if (track_->ways().find_move(itinerary.steps[i - 1], itinerary.steps[i]) == nullptr) {
      return false;
    }
  }
  return true;
}

}  // namespace tagline::traffic
