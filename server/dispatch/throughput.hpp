// The most deliveries an hour that a floor can give with so many carts, whatever the dispatcher
// does. No run may beat it.
//
//   fleet bound   3600 x carts / (h + l + e)
//     h, l   mean handling and loaded driving time per delivery, weighted by the flows
//     e      least mean empty driving time: the transportation problem that brings carts from where
//            loads end to where loads begin (W. L. Maxwell, J. A. Muckstadt, "Design of automatic
//            guided vehicle systems", IIE Transactions 14, 1982), solved with Boost.Graph
//   track bound   3600 / (least time per delivery that the busiest exclusive track is occupied by
//                 those who must use it)
// All times are free-way times with acceleration and braking at stops (free_way.hpp), which no cart
// beats.
//
// Exclusive track is a set of poses every two of which clash: of its poses only one cart can have
// any at a time. A cart that drives from p to q has both, so a set is occupied while a cart drives
// into or out of one of its poses, and while it is handled where it can only stand in such a one.
// What a delivery needs of a set at least is then, like the fleet bound,
//   handling + loaded part + least empty part
// with the time of all moves that don't touch the set counted as nothing: whatever way is taken,
// it can't be less. Of a floor's many sets the one around each piece of track is looked at.
//
// Both bounds are means over the flows' proportions and usual handling times. A run can lie above
// them by what its own mix and handling happen to be, and by the empty trip each cart is spared
// at the end.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::dispatch {

/// Loads from one station to another, in any unit: only the proportions count.
struct Flow {
  StationIx from;
  StationIx to;
  double share{};
};

/// The floor's `demand`; every ordered pair of stations alike if it names none.
std::vector<Flow> flows_of(const floor::Floor& floor);

struct Throughput {
  double per_hour{};        // the least of the two
  double fleet_per_hour{};  // fleet bound
  double track_per_hour{};  // track bound; infinity where no track must be used by anyone
  /// The track around which the track bound arises.
  std::optional<PieceIx> busiest;
  /// How long a delivery occupies it at least, s.
  double busiest_s{};
  /// Means per delivery, s.
  double loaded_s{}, empty_s{}, handling_s{};
};

/// Throws std::invalid_argument if a flow has no way (names the stations), for a negative share, or
/// if there are no flows.
Throughput throughput_bound(const floor::Track& track, const std::vector<Flow>& flows,
                            std::size_t carts);

}  // namespace tagline::dispatch
