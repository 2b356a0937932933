// Virtual carts over the cart link.
#include "server/app/cart_command.hpp"

#include <algorithm>

#include "server/app/bad_input.hpp"
#include "server/app/inputs.hpp"
#include "server/sim/virtual_carts.hpp"

namespace tagline::app {
namespace {

/// Those named, in the order of the fleet file; all of them if none is named.
Fleet chosen_from(const Fleet& fleet, const CartOptions& options) {
  for (const std::string& id : options.carts)
    if (std::none_of(fleet.begin(), fleet.end(),
                     [&](const FleetCart& cart) { return cart.id == id; }))
      throw BadInput("--cart " + id + ": " + options.fleet.string() + " has no such cart");
  if (options.carts.empty()) return fleet;
  Fleet chosen;
  for (const FleetCart& cart : fleet)
    if (std::find(options.carts.begin(), options.carts.end(), cart.id) != options.carts.end())
      chosen.push_back(cart);
  return chosen;
}

}  // namespace

int run_carts(const CartOptions& options) {
  const auto plant = load_plant(options.floor);
  const Fleet fleet = chosen_from(load_fleet_or_refuse(options.fleet, plant->floor), options);
  const auto service = sim::parse_service_url(options.url);
  if (!service)
    throw BadInput("--url " + options.url +
                   ": not an address of a service; give one such as "
                   "ws://127.0.0.1:8080/cart, or wss://NAME/cart where it has a certificate");
  if (!options.tls_root.empty() && !service->tls)
    throw BadInput("--tls-root " + options.tls_root.string() + " is for wss://, not for " +
                   options.url + "; leave it out, or give the address with wss://");
  sim::VirtualCartOptions run;
  run.ways = &plant->ways;
  run.service = *service;
  run.tls_root = options.tls_root;
  run.pace = options.pace;
  run.seed = options.seed;
  run.miss_rate = options.miss_rate;
  run.person = options.person;
  run.stalls_per_hour = options.stall_rate;
  run.drops_per_hour = options.drop_rate;
  run.report = options.report;
  for (const FleetCart& cart : fleet) {
    if (cart.key.empty())
      throw BadInput(options.fleet.string() + ": of the key of \"" + cart.id +
                     "\" only the SHA-256 is there, and a cart greets with the key; write a fleet "
                     "file for it with the key that was shown when it was given out");
    run.carts.push_back({cart.id, cart.key, home_pose(*plant, cart, options.fleet)});
  }
  try {
    return sim::run_virtual_carts(run);
  } catch (const std::invalid_argument& error) {
    throw BadInput(error.what());
  }
}

}  // namespace tagline::app
