// Sending a cart on a way that the guard takes, alone or with the others moving on. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/traffic/moving_on.hpp"
#include "server/traffic/planner.hpp"
#include "server/traffic/turns_by_trial.hpp"

namespace tagline::control {

bool Core::State::send(CartIx cart, const std::vector<traffic::Stop>& stops,
                       const std::vector<PoseIx>& rests, std::optional<JobId> job) {
  CartState& c = at(cart);
  const std::size_t until = authority(cart);
  if (moving_on) return send_with_others(cart, stops, rests, job);
  const auto all = outlooks();
  const traffic::WayWish wish{.cart = cart,
                              .start = c.path[until].pose,
                              .ready = all[cart.value].ready,
                              .standing = all[cart.value].standing,
                              .stops = stops,
                              .rests = rests,
                              .all_rests = &limit.rests};
  if (const auto way = traffic::send_by_time(guard, all, now, wish, travel)) {
    go(cart, way->steps, way->stop_steps, job);
    return true;
  }
  // Not by time; then by any order of turns that works.
  const auto open = open_poses(cart);
  dispatch::ErrandWish plain{.start = wish.start, .stops = {}, .rests = rests};
  for (const traffic::Stop& stop : stops) plain.stops.push_back(stop.point);
  const auto errand = dispatch::lay_out(
      ways, plain, [&](PoseIx pose) { return static_cast<bool>(open[pose.value]); });
  if (!errand) return false;
  const std::span<const PoseIx> tail(errand->steps.begin() + 1, errand->steps.end());
  traffic::Itinerary next = *guard.itinerary(cart);
  next.steps.resize(until + 1);
  next.steps.insert(next.steps.end(), tail.begin(), tail.end());
  const auto order = traffic::find_order(guard, cart, next);
  if (!order || guard.reroute(cart, tail, *order)) return false;
  go(cart, errand->steps, errand->stop_steps, job);
  return true;
}

std::vector<CartIx> Core::State::who_goes_first(CartIx cart) const {
  // Those that have waited long, so that nobody waits for ever while others come and go; then the
  // cart that sets out; then the rest.
  constexpr Duration long_wait = std::chrono::seconds{30};
  std::vector<std::pair<Instant, CartIx>> order;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartIx other{i};
    if (other != cart && guard.itinerary(other) == nullptr) continue;
    const auto& waits = carts[i].waits;
    const bool overdue = other != cart && waits && now - waits->since >= long_wait;
    order.emplace_back(overdue ? waits->since : other == cart ? now : Instant::max(), other);
  }
  std::ranges::sort(order);
  std::vector<CartIx> sequence;
  for (const auto& [since, who] : order) sequence.push_back(who);
  return sequence;
}

std::vector<bool> Core::State::movable() const {
  std::vector<bool> result;
  for (std::uint32_t i = 0; i < carts.size(); ++i) result.push_back(may_move({i}));
  return result;
}

std::size_t Core::State::needed_of(CartIx cart) const {
  const CartState& c = at(cart);
  const std::size_t until = authority(cart);
  for (std::size_t i = c.path.size(); i-- > until + 1;) {
    if (c.path[i].act == Act::load || c.path[i].act == Act::unload) return i - until;
  }
  return 0;
}

std::vector<std::size_t> Core::State::needed() const {
  std::vector<std::size_t> result;
  for (std::uint32_t i = 0; i < carts.size(); ++i) result.push_back(needed_of({i}));
  return result;
}

void Core::State::extend_others(const std::vector<traffic::Change>& changes, CartIx cart) {
  for (const traffic::Change& change : changes) {
    if (change.cart == cart) continue;
    // What it had to do stays as it was; what is new is only driving on.
    CartState& other = at(change.cart);
    const std::size_t until = authority(change.cart);
    const std::size_t kept = until + 1 + needed_of(change.cart);
    std::vector<PoseIx> beyond;
    for (std::size_t i = kept; i < other.path.size(); ++i) beyond.push_back(other.path[i].pose);
    const std::span<const PoseIx> instead(
        change.tail.begin() + static_cast<std::ptrdiff_t>(kept - until - 1), change.tail.end());
    if (std::ranges::equal(beyond, instead)) continue;
    other.path.resize(kept);
    if (other.path.back().act == Act::rest) other.path.back().act = Act::go;
    for (const PoseIx pose : instead) {
      other.path.push_back({other.path.back().step + 1, pose, Act::go});
    }
    other.last_step = std::max(other.last_step, other.path.back().step);
    if (other.path.back().act == Act::go) other.path.back().act = Act::rest;
    ++other.trip;
    record_path(change.cart);
    touch(change.cart);
  }
}

bool Core::State::place_with_others(CartIx cart, std::vector<PoseIx>& steps) {
  std::vector<bool> can = movable();
  can[cart.value] = true;  // once it is placed
  const auto changes =
      traffic::propose_moving_on(guard, cart, steps, needed(), who_goes_first(cart), can);
  if (!changes) return false;
  std::vector<traffic::Change> others;
  std::vector<std::pair<traffic::Rank, CartIx>> turns;
  for (const traffic::Change& change : *changes) {
    for (const traffic::Rank rank : change.ranks) turns.emplace_back(rank, change.cart);
    if (change.cart != cart) {
      others.push_back(change);
    } else {
      steps.resize(1);
      steps.insert(steps.end(), change.tail.begin(), change.tail.end());
    }
  }
  std::ranges::sort(turns);
  traffic::Order order;
  for (const auto& [rank, who] : turns) order.push_back(who);
  // The others can go on like this with or without the new cart.
  if (guard.replan(others)) return false;
  extend_others(others, cart);
  return !guard.place(cart, {steps, 0}, order);
}

bool Core::State::send_with_others(CartIx cart, const std::vector<traffic::Stop>& stops,
                                   const std::vector<PoseIx>& rests, std::optional<JobId> job) {
  // It stays where its last stop is, until it is in somebody's way.
  dispatch::ErrandWish wish{
      .start = at(cart).path[authority(cart)].pose, .stops = {}, .rests = rests};
  for (const traffic::Stop& stop : stops) wish.stops.push_back(stop.point);
  if (!stops.empty()) {
    const auto poses = ways.poses_at(stops.back().point);
    wish.rests.assign(poses.begin(), poses.end());
  }
  const auto errand = dispatch::lay_out(ways, wish, [&](PoseIx pose) { return travel.open(pose); });
  if (!errand) return false;
  const auto changes = traffic::propose_moving_on(guard, cart, errand->steps, needed(),
                                                  who_goes_first(cart), movable());
  if (!changes || guard.replan(*changes)) return false;
  extend_others(*changes, cart);
  auto steps = std::vector{wish.start};
  const auto mine = std::ranges::find(*changes, cart, &traffic::Change::cart);
  if (mine != changes->end()) steps.insert(steps.end(), mine->tail.begin(), mine->tail.end());
  go(cart, steps, errand->stop_steps, job);
  return true;
}

void Core::State::go(CartIx cart, const std::vector<PoseIx>& steps,
                     const std::vector<std::size_t>& stop_steps, std::optional<JobId> job) {
  CartState& c = at(cart);
  const std::size_t until = authority(cart);
  auto path = to_path(steps, stop_steps, job ? &jobs.at(*job) : nullptr, c.path[until].step);
  c.path.resize(until);
  c.path.insert(c.path.end(), path.begin(), path.end());
  c.last_step = std::max(c.last_step, c.path.back().step);
  c.job = job;
  ++c.trip;
  record_path(cart);
  touch(cart);
  wake(cart);
}

}  // namespace tagline::control
