// Track for carts that can use more of it, and help for those that wait. See state.hpp.
#include <algorithm>
#include <stdexcept>

#include "server/control/state.hpp"
#include "server/floor/drive_time.hpp"

namespace tagline::control {
namespace {

/// The cart's own table is small; more than this is never told at once.
constexpr std::size_t most_points_ahead = 12;
/// A cart that waits so long has its turns looked at again, and then at this interval.
constexpr Duration turns_after = std::chrono::seconds{3};
constexpr Duration turns_every = std::chrono::seconds{5};
/// What other turns must save in all to be worth it.
constexpr Duration turns_gain = std::chrono::seconds{2};
/// The same for another way round.
constexpr Duration way_after = std::chrono::seconds{15};
constexpr Duration way_every = std::chrono::seconds{15};
constexpr Duration way_gain = std::chrono::seconds{10};
/// So many looks at a time, so that a large fleet's standstill doesn't hold the core up.
constexpr int most_helped = 3;

}  // namespace

void Core::State::due(CartIx cart) {
  if (grant_due[cart.value]) return;
  grant_due[cart.value] = true;
  grants_due.push_back(cart);
}

void Core::State::all_due() {
  for (std::uint32_t i = 0; i < carts.size(); ++i) due({i});
}

void Core::State::wake(CartIx cart) {
  for (const CartIx other : waiting) {
    const auto& waits = at(other).waits;
    if (waits && (!waits->cart || *waits->cart == cart)) due(other);
  }
}

void Core::State::set_waits(CartIx cart, std::optional<WaitsFor> waits) {
  CartState& c = at(cart);
  if (waits) {
    waiting.insert(cart);
  } else {
    waiting.erase(cart);
  }
  c.waits = waits;
  touch(cart);
}

void Core::State::grant_track() {
  // Also one whose way is the same may have got other turns.
  for (const CartIx cart : guard.take_replanned()) {
    due(cart);
    wake(cart);
  }
  if (grants_due.empty()) return;
  // Who waits longest is served first when track becomes free.
  std::vector<CartIx> turn = std::move(grants_due);
  grants_due.clear();
  std::ranges::sort(turn, {}, [&](CartIx cart) {
    return std::pair(at(cart).waits ? at(cart).waits->since : Instant::max(), cart);
  });
  for (const CartIx cart : turn) grant_to(cart);
  // What was touched by granting has been granted.
  for (const CartIx cart : turn) grant_due[cart.value] = false;
  for (const CartIx cart : grants_due) grant_due[cart.value] = false;
  grants_due.clear();
}

std::size_t Core::State::wanted_authority(CartIx cart) const {
  const CartState& c = at(cart);
  // How far it should be able to go so as not to brake before it hears from us again: the next
  // point, where it will be heard of, and from there its stopping distance and what it drives while
  // the messages travel.
  const MmPerS v = floor.cart.speed;
  const Mm needed =
      floor::stopping_distance(v, floor.cart) + Mm{v.value * policy.link_latency.count() / 1000};
  // One that has stopped without having found the tag there stands where its authority ended then,
  // whatever it last read.
  std::size_t stands = 0;
  if (c.fault == Fault::overrun) {
    stands = authority(cart);
    const Step first = c.path.front().step;
    if (c.overrun_at && *c.overrun_at >= first) {
      stands = std::min<std::size_t>(*c.overrun_at - first, stands);
    }
  }
  std::size_t target = stands;
  Mm beyond_next{0};
  while (target + 1 < c.path.size() && target < stands + most_points_ahead) {
    const Act act = c.path[target].act;
    if (act == Act::load || act == Act::unload) break;  // handling comes first
    const bool can_end_here = !floor[ways[c.path[target].pose].at].tags.empty();
    if (target > stands && beyond_next >= needed && can_end_here) break;
    if (!closed_pieces.empty() && target >= authority(cart) &&
        closed_between(c.path[target].pose, c.path[target + 1].pose)) {
      break;
    }
    ++target;
    if (target >= stands + 2) {
      beyond_next += ways.find_move(c.path[target - 1].pose, c.path[target].pose)->length;
    }
  }
  return target;
}

void Core::State::grant_to(CartIx cart) {
  CartState& c = at(cart);
  if (!may_move(cart)) {
    if (c.waits) set_waits(cart, {});
    return;
  }
  const std::size_t until = authority(cart);
  const std::size_t target = wanted_authority(cart);
  if (target <= until || awaited_greetings || !clear_of_unconfirmed(cart)) {
    const auto closed = target <= until ? closed_ahead(cart) : std::nullopt;
    if (!closed) {
      if (c.waits) set_waits(cart, {});
    } else if (!c.waits || !c.waits->closed || c.waits->piece != *closed) {
      set_waits(cart, WaitsFor{*closed, {}, c.waits ? c.waits->since : now, false, true});
    }
    tell_authority(cart);
    return;
  }
  const auto proposal = traffic::propose_grant(guard, cart, target - until);
  if (proposal.count > 0 && !guard.grant(cart, proposal.count)) {
    if (c.waits) set_waits(cart, {});
    touch(cart);
  }
  tell_authority(cart);
  if (until + proposal.count < target && proposal.obstacle) {
    const auto by =
        proposal.obstacle->by == cart ? std::nullopt : std::optional{proposal.obstacle->by};
    const bool for_turn = proposal.obstacle->kind == traffic::Obstacle::Kind::turn;
    const bool same = c.waits && c.waits->piece == proposal.obstacle->piece &&
                      c.waits->cart == by && c.waits->for_turn == for_turn && !c.waits->closed;
    if (!same) {
      set_waits(cart, WaitsFor{proposal.obstacle->piece, by, c.waits ? c.waits->since : now,
                               for_turn, false});
    }
  }
}

void Core::State::assert_nobody_forgotten() const {
  if (awaited_greetings) return;
  for (const CartState& c : carts) {
    const auto cart = CartIx{static_cast<std::uint32_t>(&c - carts.data())};
    if (!may_move(cart) || !clear_of_unconfirmed(cart)) continue;
    const std::size_t until = authority(cart);
    const std::size_t target = wanted_authority(cart);
    if (target > until && traffic::propose_grant(guard, cart, target - until).count > 0) {
      throw std::logic_error("core: " + c.name + " could go on and was not told (liveness)");
    }
  }
}

void Core::State::help_waiting() {
  if (waiting.empty() || awaited_greetings) return;
  std::vector<traffic::Outlook> all;  // worked out when first needed
  std::optional<traffic::Forecast> as_planned;
  int helped = 0;
  // Those that were not looked at for longest come first.
  std::vector<CartIx> turn(waiting.begin(), waiting.end());
  std::ranges::stable_sort(turn, {}, [&](CartIx cart) { return at(cart).turns_tried; });
  for (const CartIx cart : turn) {
    CartState& c = at(cart);
    if (!c.waits || authority(cart) > 0) continue;  // it still drives
    if (helped >= most_helped) return;
    const Duration waited = now - c.waits->since;
    // While the track is held, other turns don't free it.
    if (c.waits->for_turn && waited >= turns_after && now - c.turns_tried >= turns_every) {
      c.turns_tried = now;
      ++helped;
      if (all.empty()) all = outlooks();
      if (!as_planned) as_planned.emplace(guard, all, now);
      if (traffic::improve_turns(guard, *as_planned, all, now, cart, turns_gain)) {
        as_planned.reset();
      }
    }
    if (!c.waits) continue;
    if (!moving_on && waited >= way_after && now - c.way_tried >= way_every) {
      c.way_tried = now;
      ++helped;
      if (all.empty()) all = outlooks();
      if (!as_planned) as_planned.emplace(guard, all, now);
      refresh_travel();
      const Job* job = c.job ? &jobs.at(*c.job) : nullptr;
      traffic::WayWish wish{
          .cart = cart,
          .start = c.path[0].pose,
          .ready = now,
          .standing = true,
          .stops = job != nullptr ? stops_left(*job) : std::vector<traffic::Stop>{},
          .rests = free_rests(cart),
          .all_rests = &limit.rests};
      if (auto way = traffic::improve_way(guard, *as_planned, all, now, wish, travel, way_gain)) {
        go(cart, way->steps, way->stop_steps, c.job);
        as_planned.reset();
        all.clear();
      }
    }
  }
}

}  // namespace tagline::control
