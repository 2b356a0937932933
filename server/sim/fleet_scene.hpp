// What there is in a fast run, for those who take part in it: people and the watch.
#pragma once

#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/sim/fleet_agenda.hpp"
#include "server/sim/fleet_cart.hpp"
#include "server/sim/fleet_links.hpp"

namespace tagline::sim {

/// All of it belongs to the run and outlives whoever has a scene.
struct FleetScene {
  const floor::Track& track;
  const control::Core& core;
  std::vector<FleetCart>& carts;
  const FleetLinks& links;
  FleetAgenda& agenda;
};

/// Answers come at once, so that one number does for every request.
inline constexpr control::RequestId fleet_request = 1;

/// Thrown where an invariant is broken: the run is over.
struct FleetBroken {
  /// What broke and where, one sentence.
  std::string what;
};

}  // namespace tagline::sim
