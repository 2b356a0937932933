// The traffic planner: proposes, never decides. Its worst mistake costs time; the guard keeps
// everything else.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "server/traffic/earliest.hpp"
#include "server/traffic/guard.hpp"

namespace tagline::traffic {

// ---- ways and turns by time ------------------------------------------------------------------

/// Sends a cart where and when it is done earliest, the others going on as planned; then the guard
/// has it. `times` holds which poses it may use. Nothing, and no change, if no way is found.
std::optional<TimedWay> send_by_time(Guard& guard, const std::vector<Outlook>& outlooks,
                                     Instant now, const WayWish& wish,
                                     const floor::TravelTimes& times);

/// What sending would cost: until the cart sets out to do the handling of the last of the stops
/// that were looked at (all of them in a small fleet, else the first), and what all others are
/// delayed by it, in sum. Nothing if no way is found.
struct SendingCost {
  Duration mine{}, others{};
  std::size_t stops{};
};
std::optional<SendingCost> cost_of_sending(const Forecast& as_planned,
                                           const std::vector<Outlook>& outlooks, Instant now,
                                           const WayWish& wish, const floor::TravelTimes& times);

/// Lets `cart` pass where it can be earliest, given where the others are by now, if that makes the
/// sum of its time and of all those whose turn comes before or after its own instead shorter by at
/// least `gain`; then the guard has the new turns.
/// Since that sum falls each time, two choices can't alternate while nothing else happens.
/// `as_planned`: the forecast of how things stand now; not to be used any more if true is given.
bool improve_turns(Guard& guard, const Forecast& as_planned, const std::vector<Outlook>& outlooks,
                   Instant now, CartIx cart, Duration gain);

/// Another way for a cart that waits with no authority left, if that makes the sum shorter by at
/// least `gain`; then the guard has it. `as_planned`: as above.
std::optional<TimedWay> improve_way(Guard& guard, const Forecast& as_planned,
                                    const std::vector<Outlook>& outlooks, Instant now,
                                    const WayWish& wish, const floor::TravelTimes& times,
                                    Duration gain);

// ---- grants ----------------------------------------------------------------------------------

/// A grant that could be made to a cart now, and what keeps it from more.
struct GrantProposal {
  std::size_t count{};
  std::optional<Obstacle> obstacle;  // empty if all that was wanted can be granted
};

/// The longest grant, at most `wanted` steps, that is clear and in turn. It ends at a point with a
/// tag: a cart can't be seen to stop elsewhere.
GrantProposal propose_grant(const Guard& guard, CartIx cart, std::size_t wanted);

}  // namespace tagline::traffic
