// What the cart logic is told and what it answers: the words of the cart link as firmware keeps
// them.
#pragma once

#include <stdint.h>

#include "protocol/cart/tag.hpp"

namespace tagline {
namespace cart {

/// Number of a point on the cart's path (protocol: step). 0 = none. 32 bits: a point a second for
/// 136 years.
typedef uint32_t Step;
/// Number of a trip; grows with each one.
typedef uint32_t Trip;

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

}  // namespace cart
}  // namespace tagline
