// Where carts can be set down at the start of a simulated run.
#pragma once

#include <vector>

#include "server/floor/track.hpp"

namespace tagline::sim {

/// Every pose that a person can name without doubt, in the order in which to try them: sidings with
/// a charger, other sidings, then the rest, each as far as can be from all before it (farthest
/// point first: T. F. Gonzalez, Theoretical Computer Science 38, 1985).
std::vector<PoseIx> start_places(const floor::Track& track);

}  // namespace tagline::sim
