// How things stand in a core, as text for a terminal.
#pragma once

#include <string>

#include "server/control/core.hpp"
#include "server/floor/track.hpp"

namespace tagline::app {

/// One line for each cart: what it does, its way with a bar where its authority ends, what it
/// holds.
std::string books_text(const control::Core& core, const floor::Track& track);

/// Carts and why they stand, open jobs and why none of them is taken up, alarms; a line each.
std::string state_text(const control::Core& core, const floor::Track& track);

/// The same as one JSON object; members as in server/net/API.md.
std::string state_json(const control::Core& core, const floor::Track& track, Instant at);

}  // namespace tagline::app
