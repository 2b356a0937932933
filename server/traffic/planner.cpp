// See planner.hpp.
#include "server/traffic/planner.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <span>

#include "server/traffic/turns_by_trial.hpp"

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

Change ranked(CartIx cart, const TimedWay& way) {
  Change change{cart, {}, {}};
  for (std::size_t i = 1; i < way.steps.size(); ++i) {
    change.tail.push_back(way.steps[i]);
    change.ranks.push_back(rank_of(way.departs[i]));
  }
  return change;
}

/// Ranks for a way between the ranks that the others have, so that they need no new ones; nothing
/// if there is no room, because the others' ranks have fallen behind what is expected by now.
std::optional<Change> ranked_between(const Guard& guard, const Forecast& forecast, CartIx cart,
                                     const TimedWay& way) {
  Change change{cart, {}, {}};
  Rank before = std::numeric_limits<Rank>::min();
  for (std::size_t i = 1; i < way.steps.size(); ++i) {
    // After the ranks by which those before have left, and after this cart's own last one.
    Rank low = before == std::numeric_limits<Rank>::min() ? before : before + 1;
    guard.for_each_rival(cart, way.steps[i], [&](Use use) {
      const Itinerary& theirs = *guard.itinerary(use.cart);
      if (use.step < theirs.authority || use.step + 1 >= theirs.steps.size()) return;
      const Instant clears = forecast.clears(use.cart, use.step);
      if (clears <= way.departs[i]) low = std::max(low, guard.ranks(use.cart)[use.step + 1] + 1);
    });
    before = std::max(low, rank_of(way.departs[i]));
    // Before the ranks by which those after come in: this step is left with the next rank.
    Rank high = std::numeric_limits<Rank>::max();
    guard.for_each_rival(cart, way.steps[i - 1], [&](Use use) {
      const Itinerary& theirs = *guard.itinerary(use.cart);
      if (use.step <= theirs.authority) return;
      if (forecast.departs(use.cart, use.step) >= way.arrives[i]) {
        high = std::min(high, guard.ranks(use.cart)[use.step] - 1);
      }
    });
    before = std::min(before, high);
    if (before < low) return {};
    change.tail.push_back(way.steps[i]);
    change.ranks.push_back(before);
  }
  return change;
}

/// Carts that have to do with one another on some of the poses.
std::vector<CartIx> met_on(const Guard& guard, CartIx cart, const std::vector<PoseIx>& steps) {
  std::vector<CartIx> met;
  for (const PoseIx pose : steps) {
    guard.for_each_rival(cart, pose, [&](Use use) {
      if (std::ranges::find(met, use.cart) == met.end()) met.push_back(use.cart);
    });
  }
  return met;
}

/// What is left to do for the cart and those it meets, in sum.
Duration sum_left(const Forecast& forecast, CartIx cart, const std::vector<CartIx>& met) {
  Duration sum = forecast.weighty_left(cart);
  for (const CartIx other : met) sum += forecast.weighty_left(other);
  return sum;
}

/// Carts that would pass before `change.cart` somewhere and now come after it, or the other way
/// round, when its present steps get these ranks.
std::vector<CartIx> turned_round(const Guard& guard, const Change& change) {
  std::vector<CartIx> found;
  const Itinerary& mine = *guard.itinerary(change.cart);
  const auto old = guard.ranks(change.cart);
  for (std::size_t i = 0; i < change.tail.size(); ++i) {
    const std::size_t step = mine.authority + 1 + i;
    guard.for_each_rival(change.cart, change.tail[i], [&](Use use) {
      if (use.step <= guard.itinerary(use.cart)->authority) return;
      const Rank theirs = guard.ranks(use.cart)[use.step];
      const auto before = [&](Rank rank) {
        return std::pair(theirs, use.cart) < std::pair(rank, change.cart);
      };
      if (before(old[step]) == before(change.ranks[i])) return;
      if (std::ranges::find(found, use.cart) == found.end()) found.push_back(use.cart);
    });
  }
  return found;
}

Change as_it_is(const Guard& guard, CartIx cart) {
  const Itinerary& itinerary = *guard.itinerary(cart);
  const auto from = static_cast<std::ptrdiff_t>(itinerary.authority) + 1;
  const auto ranks = guard.ranks(cart);
  return {cart,
          {itinerary.steps.begin() + from, itinerary.steps.end()},
          {ranks.begin() + from, ranks.end()}};
}

/// How long the others may have to wait for a cart to leave the place where it gets its new way,
/// tried in turn.
constexpr std::array<Duration, 3> patiences{std::chrono::seconds{8}, std::chrono::seconds{60},
                                            std::chrono::minutes{30}};

std::optional<TimedWay> send_between(Guard& guard, const std::vector<Outlook>& outlooks,
                                     Instant now, const WayWish& wish,
                                     const floor::TravelTimes& times) {
  for (const Duration patience : patiences) {
    const Forecast forecast(guard, outlooks, now, LeftOut{wish.cart, wish.ready + patience});
    auto way = earliest_way(forecast, wish, times);
    if (!way) continue;
    if (const auto change = ranked_between(guard, forecast, wish.cart, *way)) {
      if (!guard.replan(std::array{*change})) return way;
    }
    auto changes = ranked_anew(guard, forecast, wish.cart);
    changes.push_back(ranked(wish.cart, *way));
    if (!guard.replan(changes)) return way;
  }
  return {};
}

/// With the others making way for it, in whatever order brings all to the end.
std::optional<TimedWay> send_first(Guard& guard, const std::vector<Outlook>& outlooks, Instant now,
                                   const WayWish& asked, const floor::TravelTimes& times) {
  WayWish wish = asked;
  wish.first = true;
  const Forecast forecast(guard, outlooks, now, LeftOut{wish.cart, wish.ready + patiences[0]});
  auto way = earliest_way(forecast, wish, times);
  if (!way) return {};
  Itinerary next = *guard.itinerary(wish.cart);
  next.steps.resize(next.authority + 1);
  next.steps.insert(next.steps.end(), way->steps.begin() + 1, way->steps.end());
  const auto order = find_order(guard, wish.cart, next);
  if (!order || guard.reroute(wish.cart, std::span(way->steps).subspan(1), *order)) return {};
  return way;
}

/// The outlooks once the cart is on this way.
std::vector<Outlook> once_sent(const Guard& guard, std::vector<Outlook> outlooks,
                               const WayWish& wish, const TimedWay& way) {
  Outlook& mine = outlooks[wish.cart.value];
  const std::size_t until = guard.itinerary(wish.cart)->authority;
  mine.dwell.assign(until + way.steps.size(), Duration{0});
  for (std::size_t s = 0; s < wish.stops.size(); ++s) {
    mine.dwell[until + way.stop_steps[s]] += wish.stops[s].dwell;
  }
  return outlooks;
}

/// With their weights: what is left to do for all, and how much of it is waiting for one another.
struct Sums {
  Duration left{}, waits{};
};
Sums sums(const Guard& guard, const std::vector<Outlook>& outlooks, Instant now) {
  const Forecast forecast(guard, outlooks, now);
  Sums sum;
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    if (guard.itinerary({c}) == nullptr) continue;
    sum.left += forecast.weighty_left({c});
    sum.waits += forecast.waits({c}) * outlooks[c].weight;
  }
  return sum;
}

/// As improve_turns(), but with new ranks for everybody, so that there is always room between them.
/// For a guard that is thrown away if all this is of no use. `present`: how it is now, and then.
bool improve_freely(Guard& guard, const std::vector<Outlook>& outlooks, Instant now, CartIx cart,
                    Duration gain, Sums& present) {
  const Itinerary& mine = *guard.itinerary(cart);
  if (mine.ahead() == 0) return false;
  const Outlook& outlook = outlooks[cart.value];
  const std::vector<PoseIx> steps(mine.steps.begin() + static_cast<std::ptrdiff_t>(mine.authority),
                                  mine.steps.end());
  std::vector<Duration> dwell{Duration{0}};
  for (std::size_t i = mine.authority + 1; i < mine.steps.size(); ++i) {
    dwell.push_back(outlook.dwell_at(i));
  }
  std::vector<Change> old;
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    if (guard.itinerary({c}) != nullptr) old.push_back(as_it_is(guard, {c}));
  }
  const Instant ready = std::max(now, outlook.ready);
  for (const Duration patience : patiences) {
    const Forecast without(guard, outlooks, now, LeftOut{cart, ready + patience});
    const auto way = earliest_along(without, cart, steps, dwell, ready, outlook.standing);
    if (!way) continue;
    auto changes = ranked_anew(guard, without, cart);
    changes.push_back(ranked(cart, *way));
    if (guard.replan(changes)) continue;
    const Sums then = sums(guard, outlooks, now);
    if (then.left + gain <= present.left) {
      present = then;
      return true;
    }
    guard.replan(old);
    return false;
  }
  return false;
}

/// Lets the cart and those it meets pass one another in better turns, one after the other, until
/// nothing gets better: the cart that was planned last need not be the one that waits. What is left
/// to do for all afterwards.
Duration improve_all_turns(Guard& guard, const std::vector<Outlook>& outlooks, Instant now,
                           CartIx cart) {
  constexpr int most_rounds = 3;
  constexpr std::size_t most_carts = 8;
  constexpr Duration gain = std::chrono::seconds{1};
  std::vector<CartIx> met = met_on(guard, cart, guard.itinerary(cart)->steps);
  if (met.size() > most_carts) met.resize(most_carts);
  met.push_back(cart);
  Sums present = sums(guard, outlooks, now);
  for (int round = 0; round < most_rounds; ++round) {
    bool better = false;
    for (const CartIx next : met) {
      if (present.waits < gain) break;  // other turns can only save waiting
      better = improve_freely(guard, outlooks, now, next, gain, present) || better;
    }
    if (!better) break;
  }
  return present.left;
}

/// In larger fleets trying ways out on a copy of the guard takes longer than it is worth.
constexpr std::size_t most_tried_out = 6;

std::size_t on_the_floor(const Guard& guard) {
  std::size_t count = 0;
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    if (guard.itinerary({c}) != nullptr) ++count;
  }
  return count;
}

struct Trial {
  Guard guard;
  TimedWay way;
  /// Of all with their weights, and of the cart alone.
  Duration left{}, mine{};
};
std::optional<Trial> best_trial(const Guard& guard, const std::vector<Outlook>& outlooks,
                                Instant now, const WayWish& wish, const floor::TravelTimes& times) {
  std::optional<Trial> best;
  for (const auto send : {send_between, send_first}) {
    Guard trial = guard;
    auto way = send(trial, outlooks, now, wish, times);
    if (!way) continue;
    const auto then = once_sent(trial, outlooks, wish, *way);
    const Duration left = improve_all_turns(trial, then, now, wish.cart);
    if (best && left >= best->left) continue;
    const Duration mine = Forecast(trial, then, now).left(wish.cart);
    best = Trial{std::move(trial), std::move(*way), left, mine};
  }
  return best;
}

}  // namespace

std::optional<TimedWay> send_by_time(Guard& guard, const std::vector<Outlook>& outlooks,
                                     Instant now, const WayWish& wish,
                                     const floor::TravelTimes& times) {
  if (on_the_floor(guard) > most_tried_out) return send_between(guard, outlooks, now, wish, times);
  auto best = best_trial(guard, outlooks, now, wish, times);
  if (!best) return {};
  guard = std::move(best->guard);
  return std::move(best->way);
}

std::optional<SendingCost> cost_of_sending(const Forecast& as_planned,
                                           const std::vector<Outlook>& outlooks, Instant now,
                                           const WayWish& wish, const floor::TravelTimes& times) {
  const Guard& guard = as_planned.guard();
  if (on_the_floor(guard) > most_tried_out) {
    // What the cart itself loses on the way to its first stop must do: what comes after that is far
    // off, and working it out takes in the whole fleet.
    WayWish first = wish;
    first.stops.resize(std::min<std::size_t>(1, wish.stops.size()));
    first.just_there = true;
    const auto way = earliest_way(as_planned, first, times);
    if (!way) return {};
    const Duration dwell = first.stops.empty() ? Duration{0} : first.stops.back().dwell;
    return SendingCost{way->done - dwell - now, Duration{0}, first.stops.size()};
  }
  const auto best = best_trial(guard, outlooks, now, wish, times);
  if (!best) return {};
  const Forecast without(guard, outlooks, now, LeftOut{wish.cart, wish.ready + patiences[0]});
  SendingCost cost{best->mine, best->left - best->mine * outlooks[wish.cart.value].weight,
                   wish.stops.size()};
  for (std::uint32_t c = 0; c < guard.cart_count(); ++c) {
    if (CartIx{c} == wish.cart || guard.itinerary({c}) == nullptr) continue;
    cost.others -= without.weighty_left({c});
  }
  return cost;
}

bool improve_turns(Guard& guard, const Forecast& as_planned, const std::vector<Outlook>& outlooks,
                   Instant now, CartIx cart, Duration gain) {
  const Itinerary& mine = *guard.itinerary(cart);
  if (mine.ahead() == 0) return false;
  const Outlook& outlook = outlooks[cart.value];
  const std::vector<PoseIx> steps(mine.steps.begin() + static_cast<std::ptrdiff_t>(mine.authority),
                                  mine.steps.end());
  std::vector<Duration> dwell{Duration{0}};
  for (std::size_t i = mine.authority + 1; i < mine.steps.size(); ++i) {
    dwell.push_back(outlook.dwell_at(i));
  }
  const Change old = as_it_is(guard, cart);
  const Instant ready = std::max(now, outlook.ready);
  for (const Duration patience : patiences) {
    const Forecast without(guard, outlooks, now, LeftOut{cart, ready + patience});
    const auto way = earliest_along(without, cart, steps, dwell, ready, outlook.standing);
    if (!way) continue;
    const auto change = ranked_between(guard, without, cart, *way);
    if (!change) continue;
    const std::vector<CartIx> met = turned_round(guard, *change);
    if (met.empty()) return false;
    const Duration before = sum_left(as_planned, cart, met);
    if (guard.replan(std::array{*change})) continue;
    if (sum_left(Forecast(guard, outlooks, now), cart, met) + gain <= before) return true;
    guard.replan(std::array{old});
    return false;
  }
  return false;
}

std::optional<TimedWay> improve_way(Guard& guard, const Forecast& as_planned,
                                    const std::vector<Outlook>& outlooks, Instant now,
                                    const WayWish& wish, const floor::TravelTimes& times,
                                    Duration gain) {
  const Change old = as_it_is(guard, wish.cart);
  std::vector<PoseIx> touched = guard.itinerary(wish.cart)->steps;
  const std::vector<CartIx> met_before = met_on(guard, wish.cart, touched);
  const Duration left_before = sum_left(as_planned, wish.cart, met_before);
  std::optional<TimedWay> way;
  for (const Duration patience : patiences) {
    const Forecast forecast(guard, outlooks, now, LeftOut{wish.cart, wish.ready + patience});
    way = earliest_way(forecast, wish, times);
    if (!way) continue;
    // Only between the others' ranks, so that the old way can be taken back.
    const auto change = ranked_between(guard, forecast, wish.cart, *way);
    if (!change || guard.replan(std::array{*change})) return {};
    break;
  }
  if (!way) return {};
  std::vector<Outlook> then = outlooks;
  Outlook& mine = then[wish.cart.value];
  mine.dwell.assign(way->steps.size(), Duration{0});
  for (std::size_t s = 0; s < wish.stops.size(); ++s) {
    mine.dwell[way->stop_steps[s]] = wish.stops[s].dwell;
  }
  const Forecast after(guard, then, now);
  if (sum_left(after, wish.cart, met_before) + gain <= left_before) return way;
  guard.replan(std::array{old});
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
