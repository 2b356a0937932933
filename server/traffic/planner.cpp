// See planner.hpp.
#include "server/traffic/planner.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "server/traffic/run_through.hpp"

namespace tagline::traffic {
namespace {

Rank rank_of(Instant departs) { return departs.time_since_epoch().count(); }

/// The present steps of everybody but `except`, ranked by when they are now expected to set off.
std::vector<Change> ranked_anew(const Guard& guard, const Forecast& forecast, CartIx except) {
  std::vector<Change> changes;
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    const Itinerary* itinerary = guard.itinerary({c});
    if (itinerary == nullptr || CartIx{c} == except) continue;
    Change change{{c}, {}, {}};
    for (std::size_t i = itinerary->authority + 1; i < itinerary->steps.size(); ++i) {
      change.tail.push_back(itinerary->steps[i]);
      change.ranks.push_back(rank_of(forecast.departs({c}, i)));
    }
    if (!change.tail.empty()) changes.push_back(std::move(change));
  }
  return changes;
}

/// Everybody's steps and ranks, to go back to.
std::vector<Change> as_they_are(const Guard& guard) {
  std::vector<Change> changes;
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    const Itinerary* itinerary = guard.itinerary({c});
    if (itinerary == nullptr) continue;
    const auto from = static_cast<std::ptrdiff_t>(itinerary->authority) + 1;
    const auto ranks = guard.ranks({c});
    changes.push_back({{c},
                       {itinerary->steps.begin() + from, itinerary->steps.end()},
                       {ranks.begin() + from, ranks.end()}});
  }
  return changes;
}

Change ranked(CartIx cart, const TimedWay& way) {
  Change change{cart, {}, {}};
  for (std::size_t i = 1; i < way.steps.size(); ++i) {
    change.tail.push_back(way.steps[i]);
    change.ranks.push_back(rank_of(way.departs[i]));
  }
  return change;
}

/// How long the others may have to wait for a cart to leave the place where it gets its new way,
/// tried in turn.
constexpr std::array<Duration, 3> patiences{std::chrono::seconds{8}, std::chrono::seconds{60},
                                            std::chrono::minutes{30}};

/// `order` without any turn of `cart`.
Order without(const Order& order, CartIx cart) {
  Order rest = order;
  std::erase(rest, cart);
  return rest;
}

/// `order` with exactly `turns` turns of `cart`: its first ones are dropped if there are too many,
/// new ones come last if there are too few.
Order with_same_places(const Order& order, CartIx cart, std::size_t turns) {
  const auto present = static_cast<std::size_t>(std::ranges::count(order, cart));
  std::size_t to_drop = present > turns ? present - turns : 0;
  Order result;
  for (const CartIx next : order) {
    if (next == cart && to_drop > 0) {
      --to_drop;
    } else {
      result.push_back(next);
    }
  }
  for (std::size_t i = present; i < turns; ++i) result.push_back(cart);
  return result;
}

RunThrough start(const Guard& guard, CartIx cart, const Itinerary& instead, bool& ok) {
  RunThrough run(guard.track(), guard.cart_count());
  for (std::uint32_t i = 0; i < guard.cart_count(); ++i) {
    const Itinerary* it = CartIx{i} == cart ? &instead : guard.itinerary({i});
    if (it != nullptr && !run.put({i}, it->steps, it->authority)) ok = false;
  }
  return run;
}

/// Lets carts go home one after the other, each only if it gets all the way; where none can, lets
/// each go on as far as possible (or by one step) and tries again.
std::optional<Order> search(RunThrough run, const std::vector<CartIx>& sequence, bool in_step) {
  Order order;
  while (!run.all_at_end()) {
    bool moved = false;
    for (const CartIx cart : sequence) {
      if (run.at_end(cart)) continue;
      RunThrough attempt = run;
      std::size_t steps = 0;
      while (attempt.advance(cart)) ++steps;
      if (!attempt.at_end(cart)) continue;
      run = attempt;
      order.insert(order.end(), steps, cart);
      moved = true;
    }
    if (moved) continue;
    for (const CartIx cart : sequence) {
      while (run.advance(cart)) {
        order.push_back(cart);
        moved = true;
        if (in_step) break;
      }
    }
    if (!moved) return {};
  }
  return order;
}

}  // namespace

std::optional<Order> find_order(const Guard& guard, CartIx cart, const Itinerary& instead) {
  const std::size_t turns = instead.ahead();
  Order last = without(guard.order(), cart);
  Order first(turns, cart);
  first.insert(first.end(), last.begin(), last.end());
  last.insert(last.end(), turns, cart);
  for (Order& order : std::array{first, with_same_places(guard.order(), cart, turns), last}) {
    if (guard.completes(order, cart, instead)) return std::move(order);
  }
  bool ok = true;
  const RunThrough run = start(guard, cart, instead, ok);
  if (!ok) return {};
  std::vector<CartIx> sequence;
  for (std::uint32_t i = 0; i < guard.cart_count(); ++i) {
    if (run.on_floor({i})) sequence.push_back({i});
  }
  for (std::size_t turn = 0; turn < sequence.size(); ++turn) {
    for (const bool in_step : {false, true}) {
      if (auto order = search(run, sequence, in_step)) return order;
    }
    std::ranges::rotate(sequence, sequence.begin() + 1);
  }
  return {};
}

std::optional<Order> find_order_thoroughly(const Guard& guard, CartIx cart,
                                           const Itinerary& instead) {
  if (auto order = find_order(guard, cart, instead)) return order;
  constexpr std::size_t most_states = 20'000;
  bool ok = true;
  const RunThrough begin = start(guard, cart, instead, ok);
  if (!ok) return {};
  const auto positions = [&](const RunThrough& run) {
    std::vector<std::size_t> result;
    for (std::uint32_t i = 0; i < guard.cart_count(); ++i) {
      result.push_back(run.on_floor({i}) ? run.position({i}) : 0);
    }
    return result;
  };
  // Depth first; a state is where everybody stands, so none needs to be looked at twice.
  std::set<std::vector<std::size_t>> seen{positions(begin)};
  struct Level {
    RunThrough run;
    std::uint32_t next;
  };
  std::vector<Level> stack{{begin, 0}};
  Order order;
  while (!stack.empty()) {
    Level& level = stack.back();
    if (level.run.all_at_end()) return order;
    if (level.next == guard.cart_count() || seen.size() > most_states) {
      stack.pop_back();
      if (!order.empty()) order.pop_back();
      continue;
    }
    const CartIx mover{level.next++};
    if (!level.run.on_floor(mover)) continue;
    RunThrough run = level.run;
    if (!run.advance(mover) || !seen.insert(positions(run)).second) continue;
    order.push_back(mover);
    stack.push_back({std::move(run), 0});
  }
  return {};
}

std::optional<WayProposal> propose_way(const Guard& guard, const std::vector<Outlook>& outlooks,
                                       Instant now, const WayWish& wish,
                                       const floor::TravelTimes& times) {
  for (const Duration patience : patiences) {
    const Forecast forecast(guard, outlooks, now, LeftOut{wish.cart, wish.ready + patience});
    auto way = earliest_way(forecast, wish, times);
    if (!way) continue;
    auto changes = ranked_anew(guard, forecast, wish.cart);
    changes.push_back(ranked(wish.cart, *way));
    return WayProposal{std::move(*way), std::move(changes)};
  }
  return {};
}

bool improve_turns(Guard& guard, const std::vector<Outlook>& outlooks, Instant now, CartIx cart,
                   Duration gain) {
  const Itinerary& mine = *guard.itinerary(cart);
  if (mine.ahead() == 0) return false;
  const Duration before = Forecast(guard, outlooks, now).total();
  const Outlook& outlook = outlooks[cart.value];
  const std::vector<PoseIx> steps(mine.steps.begin() + static_cast<std::ptrdiff_t>(mine.authority),
                                  mine.steps.end());
  std::vector<Duration> dwell{Duration{0}};
  for (std::size_t i = mine.authority + 1; i < mine.steps.size(); ++i) {
    dwell.push_back(outlook.dwell_at(i));
  }
  const std::vector<Change> old = as_they_are(guard);
  const Instant ready = std::max(now, outlook.ready);
  for (const Duration patience : patiences) {
    const Forecast without(guard, outlooks, now, LeftOut{cart, ready + patience});
    const auto way = earliest_along(without, cart, steps, dwell, ready, outlook.standing);
    if (!way) continue;
    auto changes = ranked_anew(guard, without, cart);
    changes.push_back(ranked(cart, *way));
    if (guard.replan(changes)) continue;
    if (Forecast(guard, outlooks, now).total() + gain <= before) return true;
    guard.replan(old);
    return false;
  }
  return false;
}

std::optional<TimedWay> improve_way(Guard& guard, const std::vector<Outlook>& outlooks, Instant now,
                                    const WayWish& wish, const floor::TravelTimes& times,
                                    Duration gain) {
  auto proposal = propose_way(guard, outlooks, now, wish, times);
  if (!proposal) return {};
  const Duration before = Forecast(guard, outlooks, now).total();
  const std::vector<Change> old = as_they_are(guard);
  if (guard.replan(proposal->changes)) return {};
  std::vector<Outlook> then = outlooks;
  Outlook& mine = then[wish.cart.value];
  mine.dwell.assign(proposal->way.steps.size(), Duration{0});
  for (std::size_t s = 0; s < wish.stops.size(); ++s) {
    mine.dwell[proposal->way.stop_steps[s]] = wish.stops[s].dwell;
  }
  if (Forecast(guard, then, now).total() + gain <= before) return std::move(proposal->way);
  guard.replan(old);
  return {};
}

GrantProposal propose_grant(const Guard& guard, CartIx cart, std::size_t wanted) {
  const Itinerary& now = *guard.itinerary(cart);
  const floor::Track& track = guard.track();
  GrantProposal proposal;
  for (std::size_t n = 1; n <= std::min(wanted, now.ahead()); ++n) {
    proposal.obstacle = guard.obstacle_to_step(cart, now.authority + n);
    if (proposal.obstacle) break;
    const PointIx end = track.ways()[now.steps[now.authority + n]].at;
    if (!track.floor()[end].tags.empty()) proposal.count = n;
  }
  return proposal;
}

}  // namespace tagline::traffic
