// The movement of a simulated run's carts as a file (JSON, RFC 8259), for a page that draws it.
#pragma once

#include <string>

#include "server/sim/movement.hpp"

namespace tagline::app {

/// A file has the first 20 minutes of a run at most, and so much of them as keeps it well below
/// 1 MiB: no sighting takes more than 40 bytes.
inline constexpr sim::MovementRecorder::Bounds movement_bounds{1200, 24'000};

/// `{"format":"tagline-movement/1","until_s":1200,"doing":["loaded","empty",...],
/// "carts":[{"cart":"cart-1","sightings":[[t,x,y,nose,doing,loaded],...]}]}`: `t` in ms since the
/// run began, `x` and `y` of the body's middle in mm, `nose` in degrees counter-clockwise from the
/// x axis, `doing` an index into the list of that name, `loaded` 0 or 1.
std::string movement_json(const sim::Movement& movement);

}  // namespace tagline::app
