// See fleet_people.hpp.
#include "server/sim/fleet_people.hpp"

#include <utility>

#include "server/sim/fleet_figures.hpp"
#include "server/sim/start_places.hpp"

namespace tagline::sim {
namespace {

using control::CartMode;
using What = FleetAgenda::What;

}  // namespace

FleetPeople::FleetPeople(FleetScene scene, FleetHands hands)
    : scene_{scene}, hands_{std::move(hands)}, care_(scene.carts.size()) {}

void FleetPeople::call(CartIx ix) {
  if (std::exchange(care_[ix.value].called, true)) return;
  care_[ix.value].in_vain = 0;
  scene_.agenda.at(scene_.agenda.now() + figures::helper_comes_s, What::visit, ix.value);
}

void FleetPeople::take_load(StationIx station) {
  const int loads = scene_.core.loads_at(station).value_or(0);
  if (loads > 0) {
    hands_.ask(control::AskCountLoads{fleet_request, scene_.track.floor()[station].id, loads - 1});
  }
  hands_.done();
}

void FleetPeople::visit(CartIx ix) {
  const double now = scene_.agenda.now();
  FleetCart& cart = scene_.carts[ix.value];
  Care& care = care_[ix.value];
  const CartMode mode = scene_.core.cart(ix).mode;
  bool helped = true;
  if (cart.fault() == control::Fault::battery) {
    cart.change_battery(now);
    hands_.touched(ix);
  } else if (mode == CartMode::needs_release) {
    helped = hands_.ask(control::AskReleaseCart{fleet_request, ix});
  } else if (mode == CartMode::in_doubt || mode == CartMode::off_floor) {
    helped = scene_.links.up(ix) && cart.still() && put_right(ix);
  } else if (cart.fault() == control::Fault::overrun) {
    cart.push_back(now);
    hands_.touched(ix);
  } else {
    care.called = false;  // it has come right by itself
    return;
  }
  hands_.done();
  if (helped) {
    ++helped_;
    care.called = false;
    return;
  }
  ++care.in_vain;
  scene_.agenda.at(now + figures::helper_again_s, What::visit, ix.value);
}

bool FleetPeople::put_right(CartIx ix) {
  FleetCart& cart = scene_.carts[ix.value];
  if (care_[ix.value].in_vain >= figures::visits_in_vain) {
    if (hands_.ask(control::AskRemoveCart{fleet_request, ix})) hands_.lifted(ix);
    cart.take_load_off(scene_.agenda.now());
    hands_.touched(ix);
    const floor::Track& track = scene_.track;
    for (const PoseIx pose : start_places(track)) {
      if (!track.floor()[track.ways()[pose].at].siding) break;
      if (place(ix, pose)) return true;
    }
    return false;
  }
  for (const TapeWalk::Leg* leg : {&cart.walk().home(), cart.walk().ahead(1)}) {
    if (leg != nullptr && leg->pose && place(ix, *leg->pose)) return true;
  }
  return false;
}

bool FleetPeople::place(CartIx ix, PoseIx pose) {
  const floor::Ways& ways = scene_.track.ways();
  const floor::Floor& floor = scene_.track.floor();
  const bool taken = hands_.ask(control::AskPlaceCart{fleet_request, ix, floor[ways[pose].at].id,
                                                      floor[ways.came_from(pose)].id});
  if (!taken) return false;
  scene_.carts[ix.value].set_on(scene_.agenda.now(), pose);
  hands_.set_down(ix);
  hands_.touched(ix);
  return true;
}

}  // namespace tagline::sim
