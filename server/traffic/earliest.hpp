// The earliest way for one cart between all that the others have planned: a search over the times
// at which each pose is free. Proposes only; what it gives is checked by the guard.
//
// Safe-interval path planning (M. Phillips, M. Likhachev, "SIPP: Safe interval path planning for
// dynamic environments", ICRA 2011), one cart after the other against the plans of those before
// (prioritised planning; when it always succeeds: M. Cap et al., "Complete decentralized method for
// on-line multi-robot trajectory planning in well-formed infrastructures", ICAPS 2015). A cart uses
// a pose from setting off towards it until it reads the next tag; for a pose at which it may rest
// the time must be free for ever. The bound that guides the search (A*, Hart, Nilsson, Raphael
// 1968) is the driving time over an empty floor.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/travel_times.hpp"
#include "server/traffic/forecast.hpp"

namespace tagline::traffic {

/// A place to be visited, and how long the cart stands there.
struct Stop {
  PointIx point;
  Duration dwell{};
};

struct WayWish {
  CartIx cart;
  /// Where the cart can be turned to this, when, and whether it stands there then.
  PoseIx start;
  Instant ready;
  bool standing{};
  std::vector<Stop> stops;    // in turn
  std::vector<PoseIx> rests;  // any of them ends it
  /// All places of rest, also those that are taken: the search is guided by the driving time to the
  /// nearest of them, which is kept from one wish to the next. Null: by that to `rests`.
  const std::vector<PoseIx>* all_rests{nullptr};
  /// It ends with the last stop; where the cart rests after that is left open. To judge only: such
  /// a way brings nobody home.
  bool just_there{false};
  /// Only what the others hold counts; for what they mean to do they would have to make way.
  bool first{false};
};

struct TimedWay {
  std::vector<PoseIx> steps;              // steps[0] is the start
  std::vector<Instant> departs, arrives;  // per step; departs[0] means nothing
  std::vector<std::size_t> stop_steps;    // index into steps, per stop
  /// The last stop is done, or the rest is reached where there is no stop.
  Instant done;
};

/// `open`: which poses the way may lead over (the start is exempt), as TravelTimes::set_open was
/// told. To be put in place, a way must come from a forecast that leaves the cart out; to judge
/// what traffic would cost, one with what it does now will do. Nothing if no way is found within
/// `most_states`.
std::optional<TimedWay> earliest_way(const Forecast& forecast, const WayWish& wish,
                                     const floor::TravelTimes& times,
                                     std::size_t most_states = 20'000);

/// The earliest times for a way that is fixed, `steps` from the start to the rest, standing
/// dwell[i] at steps[i].
std::optional<TimedWay> earliest_along(const Forecast& forecast, CartIx cart,
                                       const std::vector<PoseIx>& steps,
                                       const std::vector<Duration>& dwell, Instant ready,
                                       bool standing);

}  // namespace tagline::traffic
