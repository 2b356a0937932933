// Why something stands still, from the data that decided it. See state.hpp and view.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {

Reason Core::State::standing_reason(CartIx cart) const {
  const CartState& c = at(cart);
  Reason reason{.cart = cart};
  if (c.on_floor()) reason.point = ways[c.path.front().pose].at;
  reason.since = c.passed_at;
  if (!c.doubt.empty()) {
    reason.kind = Reason::Kind::in_doubt;
  } else if (c.unconfirmed) {
    reason.kind = Reason::Kind::greetings;
  } else if (!c.on_floor()) {
    reason.kind = Reason::Kind::off_floor;
    reason.since.reset();
  } else if (all_stopped) {
    reason.kind = Reason::Kind::all_stopped;
    reason.since.reset();
  } else if (!c.stopped_with.empty()) {
    reason.kind = Reason::Kind::zone_stopped;
    reason.zone = *c.stopped_with.begin();
  } else if (c.must_be_released()) {
    reason.kind = Reason::Kind::needs_release;
  } else if (!c.connected) {
    reason.kind = Reason::Kind::not_connected;
  } else if (c.fault != Fault::none) {
    reason.kind = Reason::Kind::fault;
    reason.fault = c.fault;
  } else if (authority(cart) > 0) {
    reason.kind = Reason::Kind::driving;
    reason.point = ways[c.path[authority(cart)].pose].at;
  } else if (mode(cart) == CartMode::handling) {
    reason.kind = Reason::Kind::handling;
    if (c.job) {
      const Job& job = jobs.at(*c.job);
      reason.station = job.stop(std::min(job.stops_done, job.stop_count() - 1)).station;
      reason.job = c.job;
    }
    reason.what = c.path.front().act == Act::load ? Handling::load : Handling::unload;
  } else if (c.waits) {
    reason.piece = c.waits->piece;
    reason.other = c.waits->cart;
    reason.since = c.waits->since;
    reason.kind = c.waits->for_turn ? Reason::Kind::turn : Reason::Kind::held_track;
    if (c.waits->closed) {
      reason.kind = Reason::Kind::out_of_service;
      for (const ZoneIx zone : stopped_zones) {
        if (!std::ranges::binary_search(pieces_of(zone), c.waits->piece)) continue;
        reason.kind = Reason::Kind::zone_stopped;
        reason.zone = zone;
      }
    } else if (!c.waits->cart) {
      reason.kind = Reason::Kind::way_out;
    }
  } else if (awaited_greetings || !clear_of_unconfirmed(cart)) {
    reason.kind = Reason::Kind::greetings;
    for (std::uint32_t i = 0; i < carts.size(); ++i) {
      if (carts[i].unconfirmed) reason.other = CartIx{i};
    }
  } else if (c.loaded && !c.job) {
    reason.kind = Reason::Kind::standing_load;
  } else if (mode(cart) == CartMode::charging) {
    reason.kind = Reason::Kind::charging;
  } else if (is_down(cart)) {
    reason.kind = Reason::Kind::out_of_service;
  } else {
    reason.kind = Reason::Kind::resting;
  }
  return reason;
}

std::vector<Reason> Core::State::chain_from(CartIx cart) const {
  std::vector<Reason> chain;
  std::vector<bool> seen(carts.size(), false);
  for (CartIx next = cart; !seen[next.value];) {
    seen[next.value] = true;
    chain.push_back(standing_reason(next));
    if (!chain.back().other) break;
    next = *chain.back().other;
  }
  return chain;
}

std::vector<Reason> Core::why(CartIx cart) const {
  auto chain = state_->chain_from(cart);
  if (chain.front().kind == Reason::Kind::driving) chain.clear();
  return chain;
}

std::vector<Reason> Core::why(JobId id) const {
  const auto found = state_->why_queued.find(id);
  if (found == state_->why_queued.end()) return {};
  std::vector<Reason> chain{found->second};
  // What keeps the cart that it waits for.
  if (chain.front().cart) {
    const auto more = state_->chain_from(*chain.front().cart);
    chain.insert(chain.end(), more.begin(), more.end());
  }
  return chain;
}

}  // namespace tagline::control
