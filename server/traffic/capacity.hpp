// How many carts a floor can carry for ever.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::traffic {

/// The floor stays live with this many carts: whatever jobs come, every cart can always reach its
/// stops and then come to rest again. The core refuses to place more.
///
/// A fleet of no more carts than `rests`: each cart comes to rest on a siding of its own, chosen so
/// that a cart on any of them cuts no other one's way between its siding and all stations. Then the
/// carts could at worst work one after the other, so there is always a way out (M. Cap et al.,
/// "Complete decentralized method for on-line multi-robot trajectory planning in well-formed
/// infrastructures", ICAPS 2015).
/// A larger fleet, on a floor where every place can be reached from every other: one cart fewer
/// than can lock each other in however they stand (see moving_on.hpp); idle carts stay where they
/// are and move on ahead of working ones.
/// Both are sufficient; some floors would bear more.
struct LiveLimit {
  /// The larger of the two.
  std::size_t carts{};
  std::vector<PoseIx> rests;
  /// Why one cart more does not stay live, one sentence naming the place.
  std::string reason;

  /// Whether a fleet of this size must live by moving on.
  [[nodiscard]] bool moving_on(std::size_t fleet) const {
    return fleet > rests.size() && carts > rests.size();
  }
};

LiveLimit live_limit(const floor::Track& track);

}  // namespace tagline::traffic
