// What people may do to carts: place, remove, stop, release. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/traffic/turns_by_trial.hpp"

namespace tagline::control {

bool Core::State::place_by_itself(CartIx cart, const std::vector<PoseIx>& steps) {
  const traffic::Itinerary itinerary{steps, 0};
  const auto order = traffic::find_order_thoroughly(guard, cart, itinerary);
  return order && !guard.place(cart, itinerary, *order);
}

void Core::State::on(const AskPlaceCart& event) {
  CartState& c = at(event.cart);
  if (c.known()) {
    refuse(event.request, Refused::conflict,
           c.name + " is known to be at " + where(event.cart) +
               ". Remove it from the floor first if that is wrong.");
    return;
  }
  if (!c.connected) {
    // It may still hold an authority and drive on it, and can't be told to forget it.
    refuse(event.request, Refused::conflict,
           c.name +
               " is not connected. Switch it on and wait until it is, or take it off the "
               "floor and say so.");
    return;
  }
  const auto point = floor.find_point(event.point);
  if (!point) {
    refuse(event.request, Refused::invalid, "No point \"" + event.point + "\" on this floor.");
    return;
  }
  std::vector<PoseIx> poses;
  std::string choices;
  for (const PoseIx pose : ways.poses_at(*point)) {
    const std::string& from = floor[ways.came_from(pose)].id;
    if (choices.find("\"" + from + "\"") == std::string::npos) {
      choices += (choices.empty() ? "\"" : " or \"") + from + "\"";
    }
    if (event.came_from.empty() || event.came_from == from) poses.push_back(pose);
  }
  if (poses.empty() || (poses.size() > 1 && event.came_from.empty())) {
    refuse(event.request, Refused::invalid,
           choices.empty() ? "No tape leads to " + event.point + ": a cart can't stand there."
                           : "Say which point it came from (came_from): " + choices + ".");
    return;
  }
  if (poses.size() > 1) {
    refuse(event.request, Refused::conflict,
           "A cart can come to " + event.point +
               " in more than one way from there, and its tail would lie on other track. Place it "
               "at a point before that.");
    return;
  }
  const PoseIx pose = poses.front();
  std::size_t others = 0;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (CartIx{i} != event.cart && (carts[i].on_floor() || !carts[i].doubt.empty())) ++others;
  }
  const std::size_t most = std::max(limit.carts, limit.rests.size());
  if (others >= most) {
    refuse(event.request, Refused::conflict,
           "This floor carries " + std::to_string(most) + " carts and no more: " + limit.reason +
               " Take another cart off first.");
    return;
  }
  if (const auto obstacle = guard.obstacle(event.cart, track.cover(pose))) {
    refuse(event.request, Refused::conflict,
           at(obstacle->by).name + " holds the track at " + event.point +
               ". Place or remove that cart first.");
    return;
  }

  // From now on there are more carts than sidings.
  if (limit.moving_on(others + 1)) moving_on = true;

  // A load that is on is brought where it was to go; otherwise the cart goes to rest.
  const std::vector<bool> open = open_poses(event.cart);
  const auto is_open = [&](PoseIx at_pose) { return static_cast<bool>(open[at_pose.value]); };
  const bool carries_on = carries_on_with_job(event.cart);
  dispatch::ErrandWish wish{.start = pose, .stops = {}, .rests = free_rests(event.cart)};
  if (carries_on) {
    for (const traffic::Stop& stop : stops_left(jobs.at(*c.job))) wish.stops.push_back(stop.point);
  }
  if (moving_on) {
    // It may stay right there, or where its load is off.
    wish.rests = {pose};
    if (!wish.stops.empty()) {
      const auto last = ways.poses_at(wish.stops.back());
      wish.rests.assign(last.begin(), last.end());
    }
  }
  auto errand = dispatch::lay_out(ways, wish, is_open);
  if (!errand && !closed_pieces.empty()) {
    // It stands where it stands; it will wait before track that is closed.
    const std::vector<bool> all_open = open_poses(event.cart, true);
    errand = dispatch::lay_out(
        ways, wish, [&](PoseIx at_pose) { return static_cast<bool>(all_open[at_pose.value]); });
  }
  if (!errand) {
    refuse(event.request, Refused::conflict,
           "From " + event.point + " there is no free way to a place of rest for " + c.name +
               ". Is there a siding for every cart?");
    return;
  }
  if (moving_on ? !place_with_others(event.cart, errand->steps)
                : !place_by_itself(event.cart, errand->steps)) {
    refuse(event.request, Refused::conflict,
           "At " + event.point + ", " + c.name +
               " would lock itself or another cart in. Put it on a siding.");
    return;
  }
  if (!carries_on) give_up_job(event.cart, c.name + " was placed anew by a person");
  claims_due = true;
  alarms_due = true;
  match_due = true;
  all_due();
  c.path = to_path(errand->steps, errand->stop_steps, carries_on ? &jobs.at(*c.job) : nullptr,
                   c.last_step + 1);
  c.last_step = c.path.back().step;
  c.placed_at = c.path.front().step;
  c.passed_at = now;
  c.doubt.clear();
  c.maybe_at.clear();
  c.overran.reset();
  c.unconfirmed = false;
  c.claim.reset();
  c.release_reason.clear();
  c.stopped_with.clear();
  stop_with_zones(event.cart);
  c.fault = Fault::none;
  ++c.trip;
  c.told_trip = 0;
  out.messages.emplace_back(TellReset{event.cart});
  if (!c.must_be_released() && !all_stopped) out.messages.emplace_back(TellRelease{event.cart});
  record_path(event.cart);
  touch(event.cart);
  answer(event.request, Accepted{});
}

void Core::State::on(const AskRemoveCart& event) {
  CartState& c = at(event.cart);
  if (!c.on_floor() && c.doubt.empty()) {
    refuse(event.request, Refused::conflict, c.name + " is off the floor already.");
    return;
  }
  if (c.known() && c.connected && authority(event.cart) > 0 && !c.must_be_released() &&
      !all_stopped) {
    refuse(event.request, Refused::conflict,
           c.name + " may be driving. Stop it first, take it off the floor, then say so.");
    return;
  }
  guard.remove(event.cart);
  claims_due = true;
  alarms_due = true;
  match_due = true;
  waiting.erase(event.cart);
  all_due();
  // With the last cart gone, each that comes can have a siding again.
  moving_on = moving_on && std::ranges::any_of(carts, [&](const CartState& other) {
                return &other != &c && (other.on_floor() || !other.doubt.empty());
              });
  give_up_job(event.cart, c.name + " was taken off the floor");
  c.path.clear();
  c.doubt.clear();
  c.maybe_at.clear();
  c.overran.reset();
  c.unconfirmed = false;
  c.claim.reset();
  c.release_reason.clear();
  c.stopped_with.clear();
  c.waits.reset();
  out.messages.emplace_back(TellReset{event.cart});
  record_path(event.cart);
  touch(event.cart);
  answer(event.request, Accepted{});
}

void Core::State::on(const AskStopCart& event) {
  alarms_due = true;
  match_due = true;
  CartState& c = at(event.cart);
  c.release_reason = "A person stopped it. See that people are clear, then release it.";
  out.messages.emplace_back(TellStop{event.cart, "Stopped by a person"});
  touch(event.cart);
  answer(event.request, Accepted{});
}

void Core::State::on(const AskReleaseCart& event) {
  alarms_due = true;
  match_due = true;
  CartState& c = at(event.cart);
  if (c.stopped_at_cart) {
    refuse(event.request, Refused::conflict,
           c.name + " was stopped by its " + std::string(name_of(*c.stopped_at_cart)) +
               ". Release it at the cart, where you can see what is round it.");
    return;
  }
  if (!c.doubt.empty() || c.unconfirmed) {
    refuse(event.request, Refused::conflict,
           "Where " + c.name +
               " stands is in doubt. Say where it stands, or that it is off the "
               "floor.");
    return;
  }
  if (all_stopped) {
    refuse(event.request, Refused::conflict, "All carts are stopped: release all.");
    return;
  }
  if (!c.stopped_with.empty()) {
    refuse(event.request, Refused::conflict,
           c.name + " was stopped with " + zone_names(c.stopped_with) + ": release that.");
    return;
  }
  c.release_reason.clear();
  c.told_trip = 0;
  out.messages.emplace_back(TellRelease{event.cart});
  touch(event.cart);
  answer(event.request, Accepted{});
}

void Core::State::on(const AskStopAll& event) {
  alarms_due = true;
  match_due = true;
  all_stopped = true;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    out.messages.emplace_back(TellStop{{i}, "All carts were stopped by a person"});
    touch({i});
  }
  out.records.emplace_back(FleetRecord{true});
  out.changes.emplace_back(FleetChanged{});
  answer(event.request, Accepted{});
}

void Core::State::on(const AskReleaseAll& event) {
  alarms_due = true;
  match_due = true;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (carts[i].doubt.empty() || carts[i].on_floor()) continue;
    // The stop is all that keeps the others off the place where it stands.
    refuse(event.request, Refused::conflict,
           "Nobody knows where " + carts[i].name +
               " is. Say where it stands, or that it is off the floor, then release all.");
    return;
  }
  all_stopped = false;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    CartState& c = carts[i];
    // A cart that was stopped by itself, or is in doubt, stays so: releasing the floor doesn't say
    // that somebody has looked after that cart.
    if (c.must_be_released() || !c.doubt.empty() || c.unconfirmed) continue;
    c.told_trip = 0;
    out.messages.emplace_back(TellRelease{{i}});
    touch({i});
  }
  out.records.emplace_back(FleetRecord{false});
  out.changes.emplace_back(FleetChanged{});
  answer(event.request, Accepted{});
}

}  // namespace tagline::control
