// Every figure that the fast simulation takes for granted, in one place. Common practice, no
// source, unless it says otherwise.
#pragma once

#include "server/floor/units.hpp"

namespace tagline::sim::figures {

/// What is due within this of now is due now.
inline constexpr double at_once_s = 1e-9;
/// No stretch left to drive is shorter.
inline constexpr double least_drive_mm = 1e-6;

/// A message on its way between a cart and the service.
inline constexpr double link_latency_s = 0.1;
/// After a lost link has come back: greeting, welcome, and what went unsent is sent again.
inline constexpr double welcome_s = 2 * link_latency_s;
/// The service finds out that a link is gone when the cart greets anew, or after this.
inline constexpr double link_loss_noticed_s = 5;
inline constexpr double drop_least_s = 1, drop_most_s = 30;
/// People take something out of service for so long; well below stuck_s.
inline constexpr double closing_least_s = 20, closing_most_s = 400;

/// Something stands in the way: the cart brakes at once, says so after a while, and goes on a
/// second after the way is free (protocol/cart/cart_logic.hpp).
inline constexpr double stall_least_s = 5, stall_most_s = 60;
inline constexpr double blocked_told_s = 2;
inline constexpr double free_again_s = 1;

/// At a stop the cart creeps over the tag and tries so often to read it; in passing once.
inline constexpr int tries_at_stop = 4;
/// An unread tag at a stop: so far beyond it the cart gives up (cart_logic.hpp: 60 to 90 mm).
inline constexpr double overrun_mm = 60;
inline constexpr double creep_mm_per_s = 100;
/// Behind a fork this far, a cart that starts again can still follow any of its tapes.
inline constexpr double fork_zone_mm = 110;

/// A full battery lasts that far; an empty one is full again after charging for that long.
inline constexpr double battery_mm = 18e6;
inline constexpr double charging_s = 90 * 60;
/// It charges while it stands this close to a charger's point.
inline constexpr double charger_reach_mm = 150;

/// A cart reports at least this often.
inline constexpr double report_every_s = 60;
/// The service's own clock.
inline constexpr double tick_s = 1;

/// A person who is needed at a cart is there after this, and comes again after that if it could
/// not be put right.
inline constexpr double helper_comes_s = 120, helper_again_s = 60;
/// After so many visits in vain the person carries the cart to a siding.
inline constexpr int visits_in_vain = 10;

/// At a station with a capacity a person takes each delivered load away after this.
inline constexpr double load_taken_s = 120;

/// Nobody moves, though there is something to do and no fault explains it, for this long: gridlock.
inline constexpr double gridlock_s = 120;
/// A cart that hasn't moved for this long at the end, though it has somewhere to go, is stuck.
inline constexpr double stuck_s = 900;
/// How often the books are compared with the truth.
inline constexpr double audit_every_s = 60;

}  // namespace tagline::sim::figures
