// See tally.hpp.
#include "server/figures/tally.hpp"

#include <algorithm>

namespace tagline::figures {

Use use_of(const control::CartView& cart) {
  using control::CartMode;
  if (!cart.connected || cart.fault != control::Fault::none) return Use::out;
  switch (cart.mode) {
    case CartMode::driving:
      return Use::moving;
    case CartMode::waiting:
      return Use::waiting;
    case CartMode::handling:
      return Use::handling;
    case CartMode::charging:
      return Use::charging;
    case CartMode::idle:
      return Use::idle;
    case CartMode::off_floor:
    case CartMode::in_doubt:
    case CartMode::needs_release:
      break;
  }
  return Use::out;
}

Tally::Tally(const floor::Track& track, std::size_t cart_count)
    : merges_(track), carts_(cart_count) {}

void Tally::see(Instant at, const control::CartView& cart) {
  std::optional<Now>& now = carts_.at(cart.cart.value);
  const Use use = use_of(cart);
  std::optional<std::size_t> merge;
  if (use == Use::waiting && cart.waits_for) merge = merges_.of(cart.waits_for->piece);
  if (now) add(*now, cart.cart, at);
  if (merge && (!now || now->merge != merge)) ++waits_[{quarter_of(at), *merge}].waits;
  now = Now{now ? now->since : at, use, merge};
}

void Tally::add(Now& now, CartIx cart, Instant until) {
  while (now.since < until) {
    const Instant begun = quarter_of(now.since);
    const Instant end = std::min(until, begun + quarter);
    times_[{begun, cart, now.use}] += end - now.since;
    if (now.merge) waits_[{begun, *now.merge}].time += end - now.since;
    now.since = end;
  }
}

Sums Tally::take(Instant at) {
  for (std::uint32_t k = 0; k < carts_.size(); ++k)
    if (carts_[k]) add(*carts_[k], CartIx{k}, at);
  Sums sums;
  for (const auto& [key, time] : times_)
    sums.carts.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), time});
  for (const auto& [key, waits] : waits_)
    sums.merges.push_back({key.first, merges_.all()[key.second], waits.waits, waits.time});
  times_.clear();
  waits_.clear();
  return sums;
}

}  // namespace tagline::figures
