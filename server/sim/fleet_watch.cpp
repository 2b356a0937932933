// See fleet_watch.hpp.
#include "server/sim/fleet_watch.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "server/sim/fleet_audit.hpp"
#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {
namespace {

/// The farthest corner of a body from its reader, mm.
double reach_of(const floor::CartBody& cart) {
  const auto nose = static_cast<double>(cart.reader_to_nose.value);
  const auto length = static_cast<double>(cart.length.value);
  return std::hypot(std::max(nose, length - nose), static_cast<double>(cart.width.value) / 2);
}

/// The highest speed of any cart, mm/s.
double most_speed(const std::vector<FleetCart>& carts) {
  double most = 0;
  for (const FleetCart& cart : carts) most = std::max(most, cart.top_speed());
  return most;
}

}  // namespace

FleetWatch::FleetWatch(FleetScene scene, const FleetPeople& people)
    : scene_{scene},
      people_{people},
      referee_{scene.carts.size(), reach_of(scene.track.floor().cart), most_speed(scene.carts),
               [this](std::size_t body, double now) { return seen(body, now); }} {}

SeenMotion FleetWatch::seen(std::size_t body, double now) const {
  const floor::CartBody& measures = scene_.track.floor().cart;
  const FleetCart& cart = scene_.carts[body];
  SeenMotion s;
  s.body = cart.body(now);
  s.still = cart.still();
  s.speed = cart.top_speed();
  if (cart.turning()) {
    s.reader = s.body.centre;
    s.swing = cart.swing_speed();
    return s;
  }
  const auto to_nose = static_cast<double>(measures.reader_to_nose.value);
  const double ahead = s.body.length / 2 - to_nose;
  s.reader = {s.body.centre.x + s.body.along.x * ahead, s.body.centre.y + s.body.along.y * ahead};
  if (s.still) return s;
  const double x = cart.reader(now);
  const auto [low, high] = cart.walk().straight(x);
  const double way = cart.backing() ? -1 : 1;
  s.straight_s = (cart.backing() ? x - low : high - x) / static_cast<double>(measures.speed.value);
  s.going = {s.body.along.x * way, s.body.along.y * way};
  if (s.straight_s <= 0) {
    const double to_tail = std::max(1.0, s.body.length - to_nose);
    s.chord = std::max(1.0, floor::distance(s.reader, cart.walk().spot(x - to_tail).at));
  }
  return s;
}

void FleetWatch::look() {
  const double now = scene_.agenda.now();
  referee_.look(now);
  if (referee_.contacts().empty()) return;
  const ClosingReferee::Contact& contact = referee_.contacts().front();
  const auto name = [&](std::size_t body) {
    return scene_.core.cart_name({static_cast<std::uint32_t>(body)}).c_str();
  };
  char text[200];
  std::snprintf(text, sizeof text, "%s at (%.0f, %.0f) and %s at (%.0f, %.0f) touched at %.2f s",
                name(contact.a), contact.first.body.centre.x, contact.first.body.centre.y,
                name(contact.b), contact.second.body.centre.x, contact.second.body.centre.y,
                contact.at);
  std::string what = text;
  const auto books = audit_books(scene_.track, scene_.core, scene_.carts, now);
  held_conflicts_ += books.size();
  for (const std::string& line : books) what += "; " + line;
  throw FleetBroken{what};
}

void FleetWatch::audit() {
  const double now = scene_.agenda.now();
  const auto books = audit_books(scene_.track, scene_.core, scene_.carts, now);
  if (books.empty()) return;
  held_conflicts_ += books.size();
  char text[40];
  std::snprintf(text, sizeof text, "at %.2f s ", now);
  throw FleetBroken{text + books.front()};
}

bool FleetWatch::excused(CartIx ix) const {
  const FleetCart& cart = scene_.carts[ix.value];
  return cart.blocked(scene_.agenda.now()) || !scene_.links.up(ix) || cart.stopped() ||
         people_.called(ix) || cart.fault() != control::Fault::none;
}

void FleetWatch::watch_for_gridlock(bool jobs_open, bool closed) {
  const double now = scene_.agenda.now();
  const auto count = static_cast<std::uint32_t>(scene_.carts.size());
  bool busy = closed;
  bool unfinished = jobs_open;
  for (std::uint32_t i = 0; i < count && !busy; ++i) {
    const FleetCart& cart = scene_.carts[i];
    busy = !cart.still() || cart.handling() || excused({i});
    unfinished = unfinished || cart.waits();
  }
  if (!busy && unfinished && now - active_ > figures::gridlock_s) {
    for (std::uint32_t i = 0; i < count && !busy; ++i) {
      busy = scene_.core.cart({i}).mode == control::CartMode::charging;
    }
    if (!busy) {
      ++gridlocks_;
      busy = true;  // the next one is counted only after another such time
    }
  }
  if (busy || !unfinished) active_ = now;
}

bool FleetWatch::stuck(CartIx ix, double waited) const {
  const FleetCart& cart = scene_.carts[ix.value];
  // Where idle carts move on, one without a job has nowhere to be: it waits until it is in
  // somebody's way.
  const bool wants =
      !scene_.core.live_limit().moving_on(scene_.carts.size()) || scene_.core.cart(ix).job;
  return wants && cart.waits() && !excused(ix) && waited > figures::stuck_s;
}

}  // namespace tagline::sim
