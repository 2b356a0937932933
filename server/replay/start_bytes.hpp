// What a run of the core began from, besides its floor, as bytes: with it and the events, all that
// the core decided can be worked out again.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "server/control/core.hpp"
#include "server/floor/ways.hpp"
#include "server/replay/bytes.hpp"

namespace tagline::replay {

/// The arguments of a core's making.
struct Start {
  std::vector<std::string> cart_names;
  control::Policy policy;
  control::Restored restored;
  Instant now;
};

/// Bytes with a check sum, and with them the shapes of everything that a run's bytes are made of,
/// so that a program that knows other shapes can tell.
std::string start_bytes(const Start& start);

/// A start read back, and how the events after it are written.
struct StartRead {
  Start start;
  /// event_layout() of the program that wrote them.
  std::string layout;
};
/// Throws BadBytes: damaged, of other shapes than this program's, or not for this floor.
StartRead start_from(std::string_view bytes, const floor::Ways& ways);

/// `carts` and what the floor has.
Limits limits_of(const floor::Ways& ways, std::size_t carts);

}  // namespace tagline::replay
