// How many carts a floor can carry for ever.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::traffic {

/// The floor stays live with this many carts: whatever jobs come, every cart can always reach its
/// stops and then come to rest again. The core refuses to place more.
struct LiveLimit {
  std::size_t carts{};
  /// Places where idle carts can rest so that none cuts another's way, one per cart; empty where
  /// the floor lives by letting idle carts move on instead (a loop without sidings).
  std::vector<PoseIx> rests;
  /// Why one cart more does not stay live, one sentence naming the place.
  std::string reason;
};

LiveLimit live_limit(const floor::Track& track);

}  // namespace tagline::traffic
