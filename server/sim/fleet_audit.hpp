// Compares the core's books with the truth: does each cart hold the track its body lies on, and do
// no two carts hold track on which they could touch.
#pragma once

#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/sim/fleet_cart.hpp"

namespace tagline::sim {

/// What is wrong at `now`, one sentence each; empty if nothing. Carts in doubt may overlap others
/// in the books (design.md I8), but must hold what they lie on.
std::vector<std::string> audit_books(const floor::Track& track, const control::Core& core,
                                     const std::vector<FleetCart>& carts, double now);

}  // namespace tagline::sim
