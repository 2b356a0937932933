// See run_through.hpp.
#include "server/traffic/run_through.hpp"

#include <algorithm>

namespace tagline::traffic {

RunThrough::RunThrough(const floor::Track& track, std::size_t carts)
    : track_(&track), carts_(carts), owner_(track.piece_count(), 0) {}

bool RunThrough::clear(CartIx cart, PoseIx pose) const {
  const std::uint32_t me = cart.value + 1;
  const auto free_of_others = [&](PieceIx piece) {
    return owner_[piece.value] == 0 || owner_[piece.value] == me;
  };
  return std::ranges::all_of(track_->cover(pose), [&](PieceIx piece) {
    return free_of_others(piece) && std::ranges::all_of(track_->conflicts(piece), free_of_others);
  });
}

bool RunThrough::put(CartIx cart, const std::vector<PoseIx>& steps, std::size_t position) {
  if (!clear(cart, steps[position])) return false;
  for (const PieceIx piece : track_->cover(steps[position])) owner_[piece.value] = cart.value + 1;
  carts_[cart.value] = {&steps, position};
  return true;
}

bool RunThrough::advance(CartIx cart) {
  Cart& state = carts_[cart.value];
  if (state.steps == nullptr || state.position + 1 >= state.steps->size()) return false;
  const PoseIx here = (*state.steps)[state.position];
  const PoseIx next = (*state.steps)[state.position + 1];
  if (!clear(cart, next)) return false;
  for (const PieceIx piece : track_->cover(here)) owner_[piece.value] = 0;
  for (const PieceIx piece : track_->cover(next)) owner_[piece.value] = cart.value + 1;
  ++state.position;
  return true;
}

bool RunThrough::at_end(CartIx cart) const {
  const Cart& state = carts_[cart.value];
  return state.steps == nullptr || state.position + 1 == state.steps->size();
}

bool RunThrough::all_at_end() const {
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    if (!at_end({i})) return false;
  }
  return true;
}

}  // namespace tagline::traffic
