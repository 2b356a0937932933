// See fleet_links.hpp.
#include "server/sim/fleet_links.hpp"

#include <iterator>
#include <utility>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {

using What = FleetAgenda::What;

void FleetLinks::send(CartIx cart, control::Event event) {
  to_service_.push_back(
      {agenda_.now() + figures::link_latency_s, cart, links_[cart.value].epoch, std::move(event)});
}

void FleetLinks::say(CartIx cart, control::Event event) {
  Link& link = links_[cart.value];
  if (link.up && link.welcomed) {
    send(cart, std::move(event));
  } else if (!std::holds_alternative<control::CartReports>(event)) {
    link.unsent.push_back(std::move(event));
  }
}

void FleetLinks::tell(CartIx cart, control::Message message) {
  to_cart_.push_back({agenda_.now() + figures::link_latency_s, cart,
                      links_[cart.value].service_epoch, std::move(message)});
}

double FleetLinks::to_service_due() const {
  return to_service_.empty() ? FleetAgenda::never : to_service_.front().due;
}

double FleetLinks::to_cart_due() const {
  return to_cart_.empty() ? FleetAgenda::never : to_cart_.front().due;
}

std::optional<FleetLinks::ToService> FleetLinks::take_to_service() {
  ToService sent = std::move(to_service_.front());
  to_service_.pop_front();
  if (!still_on(sent.cart, sent.epoch)) return {};
  return sent;
}

std::optional<FleetLinks::ToCart> FleetLinks::take_to_cart() {
  ToCart sent = std::move(to_cart_.front());
  to_cart_.pop_front();
  if (!still_on(sent.cart, sent.epoch)) return {};
  return sent;
}

void FleetLinks::lose(CartIx cart) {
  Link& link = links_[cart.value];
  // What was on its way and must not be lost waits for the next connection, in order.
  std::vector<control::Event> kept;
  for (ToService& sent : to_service_) {
    if (sent.cart != cart || sent.epoch != link.epoch) continue;
    const bool kept_for_later = !std::holds_alternative<control::CartReports>(sent.event) &&
                                !std::holds_alternative<control::CartGreets>(sent.event);
    if (kept_for_later) kept.push_back(std::move(sent.event));
  }
  link.unsent.insert(link.unsent.begin(), std::make_move_iterator(kept.begin()),
                     std::make_move_iterator(kept.end()));
  link.up = link.welcomed = false;
  ++link.epoch;
  const double now = agenda_.now();
  agenda_.at(now + figures::link_loss_noticed_s, What::link_gone, cart.value, link.epoch);
  agenda_.at(now + mishaps_.drop_lasts(), What::link_back, cart.value);
}

void FleetLinks::come_back(CartIx cart, control::Event greeting) {
  Link& link = links_[cart.value];
  link.up = true;
  ++link.epoch;
  send(cart, std::move(greeting));
  const double now = agenda_.now();
  agenda_.at(now + figures::welcome_s, What::resend, cart.value, link.epoch);
  agenda_.at(mishaps_.next_drop(now), What::drop, cart.value);
}

void FleetLinks::welcome(CartIx cart) {
  Link& link = links_[cart.value];
  link.welcomed = true;
  for (control::Event& event : link.unsent) send(cart, std::move(event));
  link.unsent.clear();
}

void FleetLinks::know_greeted(CartIx cart, std::uint32_t epoch) {
  links_[cart.value].service_epoch = epoch;
  links_[cart.value].known_lost = false;
}

}  // namespace tagline::sim
