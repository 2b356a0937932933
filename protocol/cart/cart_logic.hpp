// What a cart decides by itself: obeys its authority, acts at tags, stops where it must. Portable
// C++14 for firmware: no heap, exceptions, RTTI, floating point or library beyond <stdint.h> and
// <string.h>. Motor, reader, clock and link are the caller's: it feeds what they sense and does
// what step() returns. This is no safety function: bumper, scanner and emergency stop of the cart
// must cut the drive by themselves, whatever this code commands.
//
// How it drives
//   Distances are counted by the odometer from the last tag read. What the odometer is worth it
//   learns from the known lengths between tags: after 10 m it corrects for it. Before a place where
//   it must halt it slows down so as to creep over the last stretch (60 mm + 2 % of the distance
//   since the last tag), and it halts when that place's tag is read. If the tag does not come it
//   creeps on for 60 mm by the odometer (beyond 9 m since the last tag 0.5 % of the rest more, at
//   most 90 mm) and stops: fault overrun, until the tag is read, an authority leads on from there,
//   or reset(). So it stands less than
//   100 mm beyond the tag, read or not, once it has learned, and before that with an odometer true
//   to 0.5 % and up to 5 m; never more than 150 mm.
//   It halts at: the authority's last point, load and unload, turn, a change of gear.
//   Missed tags in between are passed by: the tag of a later point counts as reaching that point,
//   and missed() counts the ones in between. A tag that belongs to no point ahead nor to the one
//   just passed stops the cart at once: fault wrong_tag, until reset().
//   The branch for leaving a point is given from 150 mm behind the point before it (on a short
//   segment from its middle; by the odometer, should its tag be missed) until 150 mm behind its
//   tag.
// Turn on the spot (act turn at point P)
//   Reads P, drives straight on, tape or no tape, by turn_offset() = length / 2 - reader_to_nose,
//   so that the middle of its body is over P; stands; turns until it sees the tape of the next
//   segment. Its reader is now turn_offset() along that segment: the odometer distance of the next
//   point is counted as if from P.
// Backing out of a spur
//   The next point's gear differs: the cart stands, then drives back, and reads the mouth's tag.
// After power-up or reset() it holds no authority and counts the first point of the next authority
//   as where it stands. If it has not read that point's tag at this very place it drives slowly up
//   to the next tag, because it can't know the distance.
#pragma once

#include <stdint.h>

#include "protocol/cart/event_queue.hpp"
#include "protocol/cart/held_authority.hpp"
#include "protocol/cart/reckoning.hpp"
#include "protocol/cart/terms.hpp"

namespace tagline {
namespace cart {

class CartLogic {
 public:
  /// Longer authorities are kept as far as they fit: the service must send moderate ones, and send
  /// again as the cart goes on.
  static constexpr uint8_t max_points = HeldAuthority::max_points;
  static constexpr uint8_t max_tags = HeldAuthority::max_tags;

  explicit CartLogic(const CartBuild& build);

  /// After power-up. `over_it`: the cart stands on kept.last_tag for sure (its reader sees it now).
  void power_up(const Kept& kept, bool over_it, int32_t odometer);

  // ---- from the service ----------------------------------------------------------------------
  // Hand over only whole, checked authorities, and don't call step() in between.

  /// False: refused (it ends before the one held, is of an earlier trip, or begins behind the last
  /// point passed, so the way there would be unknown); then skip its points.
  bool authority_begin(Step first, Step last, Trip trip);
  /// Points in order of step, without gaps. False: no more room, this and later ones are dropped.
  bool authority_point(const AuthorityPoint& point, const Tag* tags, uint8_t tag_count);
  void authority_end();
  /// A person's stop given to the service: latched until on_service_release(). The two kinds of
  /// stop are lifted each where it was given, by somebody who can see why.
  void on_service_stop();
  void on_service_release();
  /// Forget step, until, authority and faults; a person told the service where the cart stands. A
  /// person's stop stays in force.
  void reset();
  /// A person told the service that it is loaded, or unloaded: ends the handling asked for, as
  /// Senses::handled does. False, and nothing changes, if just that is not going on at this step.
  bool on_handled(Step step, Handling what);

  // ---- from the cart -------------------------------------------------------------------------
  /// The reader sees a tag. May be called again and again for the same one.
  void on_tag(const Tag& tag, int32_t odometer);
  /// A person's stop at the cart: latched until on_release().
  void on_stop(StopCause cause);
  /// Released by a person at the cart.
  void on_release();
  /// A fault the caller found (battery, drive, reader): the cart stops while it lasts.
  void set_fault(Fault fault);
  /// A sensor or a person says that a load is on or off, other than by the handling asked for.
  void set_loaded(bool loaded);
  /// Every 5 to 50 ms.
  Drive step(const Senses& senses);

  // ---- to tell the service -------------------------------------------------------------------
  /// Takes the oldest event. False if there is none. Take them after every step().
  bool next_event(Event& out) { return events_.pop(out); }
  Step passed() const { return step_; }
  Step until() const { return held_.until(); }
  const Tag& last_tag() const { return last_tag_; }
  Fault fault() const;
  bool stopped() const { return stopped_here_ || stopped_by_service_; }
  /// Stopped at the cart (protocol: Hello::stopped).
  bool stopped_here() const { return stopped_here_; }
  bool loaded() const { return loaded_; }
  /// Tags not read since power-up, though the cart passed them.
  uint16_t missed() const { return missed_; }

  int32_t turn_offset() const;

 private:
  /// Where in held_ the last point passed is.
  uint8_t current() const { return held_.index_of(step_); }
  bool same_pass(const Tag& tag) const;
  bool handled_here(Act act) const;
  void end_handling();
  void reach(uint8_t index);
  void watch_obstacle(const Senses& senses);
  bool must_stand() const;
  Branch branch_ahead() const;
  /// What is left to do at the point it stands on; true while it must not drive on.
  bool act_here(const Senses& senses, Drive& drive);
  void drive_on(Drive& drive);

  CartBuild build_;
  HeldAuthority held_;
  EventQueue events_;
  /// Since the last point passed.
  Reckoning reckoning_;
  Tag last_tag_;
  Step step_;
  /// Step at which it turned, and at which it last handled and what.
  Step turned_step_;
  Step handled_step_;
  /// Odometer where last_tag_ was read.
  int32_t tag_mark_;
  uint32_t obstacle_since_;
  uint32_t obstacle_until_;
  uint16_t missed_;
  Gear gear_;
  Handling handled_what_;
  Handling handling_;
  Fault outer_fault_;
  bool turning_;
  /// It has not driven on from the point of step_.
  bool at_point_;
  /// It doesn't know how far it stands from the point of step_.
  bool unsure_;
  /// last_tag_ was read at tag_mark_ since power-up.
  bool tag_fresh_;
  bool stopped_here_;
  bool stopped_by_service_;
  bool obstacle_;
  bool blocked_;
  bool overrun_;
  /// Passed a place where it should have halted.
  bool ran_past_;
  bool wrong_tag_;
  bool tape_lost_;
  bool loaded_;
};

}  // namespace cart
}  // namespace tagline
