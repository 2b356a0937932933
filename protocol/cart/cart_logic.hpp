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
//   The branch for leaving a point is given from the middle of the segment before it (by the
//   odometer, should its tag be missed) until 150 mm behind its tag.
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

#include "protocol/cart/tag.hpp"

namespace tagline {
namespace cart {

/// Number of a point on the cart's path (protocol: step). 0 = none. 32 bits: a point a second for
/// 136 years.
typedef uint32_t Step;

enum class Act : uint8_t { go, turn, stop, wait, load, unload };
enum class Branch : uint8_t { left, straight, right };
enum class Gear : uint8_t { forward, back };
enum class Handling : uint8_t { none, load, unload };
enum class StopCause : uint8_t { button, bumper, scanner, service };
enum class Fault : uint8_t { none, blocked, tape_lost, overrun, wrong_tag, battery, drive, reader };

/// What the builder of the cart knows of it, mm, mm/s, mm/s2.
struct CartBuild {
  int16_t length;
  int16_t reader_to_nose;
  uint16_t speed;
  uint16_t deceleration;
  /// Speed over the last stretch before a halt (common practice, no source).
  uint16_t creep;
};

/// One point of an authority; see protocol::AuthorityPoint.
struct AuthorityPoint {
  Step step;
  Act act;
  Branch branch;
  Gear gear;
  int32_t length;
  uint16_t speed;
};

/// What a cart remembers while it has no power: the last tag read (no_tag() if none yet), whether a
/// load is on, whether a stop made at the cart is in force.
struct Kept {
  Tag last_tag;
  bool loaded;
  bool stopped;
};

/// What the cart senses, read together just before step().
struct Senses {
  /// Runs on and wraps.
  uint32_t time_ms;
  /// Grows forward, falls backward, mm.
  int32_t odometer;
  /// The wheels stand still.
  bool standing;
  /// Something is in the scanner's field. The cart stops and goes on by itself a second after the
  /// field is free (a person's stop is on_stop()).
  bool obstacle;
  /// The tape sensor sees tape.
  bool tape;
  /// The turn on the spot asked for is complete (true once).
  bool turned;
  /// The loading or unloading asked for is complete (true once).
  bool handled;
};

/// What the drive is to do until the next step().
struct Drive {
  /// Target speed, mm/s; 0 = brake and stand.
  uint16_t speed;
  Gear gear;
  /// Tape to follow at the next fork.
  Branch branch;
  /// Leave the tape and drive straight on (only towards a turn on the spot).
  bool straight_on;
  /// Turn on the spot, towards the tape `branch` says, until Senses::turned.
  bool turn;
  /// Be loaded or unloaded until Senses::handled.
  Handling handling;
};

enum class EventKind : uint8_t { read, done, stop, release };

/// Something to tell the service.
struct Event {
  EventKind kind;
  /// read: step at which the tag was expected, 0 if it wasn't. done: where.
  Step step;
  Tag tag;            // read
  Handling handling;  // done
  StopCause cause;    // stop
};

class CartLogic {
 public:
  /// Points of one authority that the cart can keep, counted from the one before the last it
  /// passed, and tags of all of them. Longer ones are kept as far as they fit: the service must
  /// send moderate ones, and send again as the cart goes on.
  static constexpr uint8_t max_points = 24;
  static constexpr uint8_t max_tags = 40;

  explicit CartLogic(const CartBuild& build);

  /// After power-up. `over_it`: the cart stands on kept.last_tag for sure (its reader sees it now).
  void power_up(const Kept& kept, bool over_it, int32_t odometer);

  // ---- from the service ----------------------------------------------------------------------
  // Hand over only whole, checked authorities, and don't call step() in between.

  /// False: refused (it ends before the one held, or begins behind the last point passed, so the
  /// way there would be unknown); then skip its points.
  bool authority_begin(Step first, Step last);
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
  bool next_event(Event& out);
  Step passed() const { return step_; }
  Step until() const { return count_ == 0 ? 0 : base_ + count_ - 1u; }
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
  struct Slot {
    int32_t length;
    uint16_t speed;
    Act act;
    Branch branch;
    Gear gear;
    uint8_t first_tag;
    uint8_t tag_count;
  };
  static constexpr uint8_t max_events = 8;

  bool has_tag(uint8_t slot, const Tag& tag) const;
  uint8_t current() const { return static_cast<uint8_t>(step_ - base_); }
  int32_t travelled() const;
  void learn(int32_t length);
  bool handled_here(Act act) const;
  bool halts_at(uint8_t slot) const;
  void reach(uint8_t slot);
  void tell(const Event& event);
  void watch_obstacle(const Senses& senses);
  bool must_stand() const;
  Branch branch_ahead() const;
  /// What is left to do at the point it stands on; true while it must not drive on.
  bool act_here(const Senses& senses, Drive& drive);
  void drive_on(Drive& drive);

  CartBuild build_;
  Slot slots_[max_points];
  Tag tags_[max_tags];
  Event events_[max_events];
  Tag last_tag_;
  /// Step of slots_[0].
  Step base_;
  Step step_;
  /// Step at which it turned, and at which it last handled and what.
  Step turned_step_;
  Step handled_step_;
  int32_t odometer_;
  /// Odometer at the last point passed, and where last_tag_ was read.
  int32_t mark_;
  int32_t tag_mark_;
  /// Lengths driven from tag to tag, and what the odometer counted for them.
  int32_t true_sum_;
  int32_t counted_sum_;
  uint32_t obstacle_since_;
  uint32_t obstacle_until_;
  uint16_t missed_;
  uint8_t count_;
  uint8_t tag_count_;
  uint8_t first_event_;
  uint8_t event_count_;
  Gear gear_;
  Handling handled_what_;
  Handling handling_;
  Fault outer_fault_;
  bool turning_;
  /// It has not driven on from the point of step_.
  bool at_point_;
  /// mark_ is where a tag was read, not a place reckoned from it.
  bool mark_is_tag_;
  /// It doesn't know how far it stands from the point of step_.
  bool unsure_;
  /// last_tag_ was read at tag_mark_ since power-up.
  bool tag_fresh_;
  bool taking_;
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
