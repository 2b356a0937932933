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
// All times are free-way times with acceleration and braking at stops (floor/drive_time.hpp), which
// no cart beats.
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
  /// The track that gives the track bound.
  std::optional<PieceIx> busiest;
  /// Means per delivery, s.
  double loaded_s{}, empty_s{}, handling_s{};
};

/// Throws std::invalid_argument if a flow has no way (name the stations), or for no flows.
Throughput throughput_bound(const floor::Track& track, const std::vector<Flow>& flows,
                            std::size_t carts);

}  // namespace tagline::dispatch
