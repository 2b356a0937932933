// See turns_by_trial.hpp.
#include "server/traffic/turns_by_trial.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "server/traffic/run_through.hpp"

namespace tagline::traffic {
namespace {

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

RunThrough first_step(const Guard& guard, CartIx cart, const Itinerary& instead, bool& ok) {
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
  const RunThrough run = first_step(guard, cart, instead, ok);
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
  const RunThrough begin = first_step(guard, cart, instead, ok);
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

}  // namespace tagline::traffic
