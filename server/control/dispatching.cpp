// A job to a cart and back, and the charger for carts that need it. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
std::optional<Reason> Core::State::take_up(CartIx cart, JobId id) {
  Job& job = jobs.at(id);
  if (!send(cart, stops_left(job), free_rests(cart), id)) {
    for (std::size_t i = 0; i < job.stop_count(); ++i) {
      const PoseIx from = at(cart).path[authority(cart)].pose;
      if (travel.time(from, floor[job.stop(i).station].point) == Duration::max()) {
        return Reason{
            .kind = Reason::Kind::no_way, .cart = cart, .job = id, .station = job.stop(i).station};
      }
    }
    return Reason{.kind = Reason::Kind::locked, .cart = cart, .job = id};
  }
  job.cart = cart;
  set_job(id, JobState::assigned);
  return {};
}

void Core::State::take_from_cart(CartIx cart) {
  CartState& c = at(cart);
  if (!c.job) return;
  // It keeps its way, which leads to a place of rest, and just doesn't stop on it. The next errand
  // takes over from there.
  for (PathStep& step : c.path) {
    if (step.act != Act::rest) step.act = Act::go;
  }
  if (c.path.back().act == Act::go) c.path.back().act = Act::rest;
  const JobId id = *c.job;
  c.job.reset();
  ++changes_of_cart[id];
  set_job(id, JobState::queued);
  record_path(cart);
  touch(cart);
}

void Core::State::send_to_charge() {
  bool charger_wanted = false;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartState& c = carts[i];
    // One that is idle goes without need, but only while nothing else is to be done.
    const bool idle = open_jobs.empty() && c.path.size() == 1 && c.battery < policy.battery_idle;
    if ((!c.needs_charge && !idle) || !free_for_errand({i})) continue;
    if (is_charger(c.path.back().pose)) continue;
    refresh_travel();
    auto places = free_rests({i});
    if (moving_on) {
      for (const floor::Charger& charger : floor.chargers) {
        // One that needs it is not sent away, else two would take turns at leaving.
        if (std::ranges::any_of(carts, [&](const CartState& other) {
              return &other != &c && other.needs_charge && other.on_floor() &&
                     ways[other.path.back().pose].at == charger.point;
            })) {
          continue;
        }
        const auto poses = ways.poses_at(charger.point);
        places.insert(places.end(), poses.begin(), poses.end());
      }
    }
    std::erase_if(places, [&](PoseIx pose) { return !is_charger(pose); });
    const bool sent = !places.empty() && send({i}, {}, places, std::nullopt);
    if (!sent && c.needs_charge) charger_wanted = true;
  }
  if (!charger_wanted || moving_on) return;
  // No charger is free: a cart that rests on one without need makes room.
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!free_for_errand({i}) || carts[i].path.size() != 1 || carts[i].needs_charge ||
        !is_charger(carts[i].path.back().pose)) {
      continue;
    }
    auto places = free_rests({i});
    std::erase_if(places, [&](PoseIx pose) { return is_charger(pose); });
    if (!places.empty() && send({i}, {}, places, std::nullopt)) return;
  }
}

}  // namespace tagline::control
