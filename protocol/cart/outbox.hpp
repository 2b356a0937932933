// The cart's end of "nothing is lost, nothing counts twice" (protocol/README.md): numbers what the
// cart tells the service and keeps it until the service has it, over lost links too.
//
// Use: after every CartLogic::step() keep() its events while there is room. On welcome
// on_welcome(), on ack on_ack(). While the link is up send what next() gives, and only then a
// state, numbered by number_state().
#pragma once

#include <stdint.h>

#include "protocol/cart/terms.hpp"

namespace tagline {
namespace cart {

/// Number of a message since power-up (protocol: seq). 32 bits: one a second for 136 years.
typedef uint32_t Seq;

struct Outgoing {
  Seq seq;
  Event event;
};

class Outbox {
 public:
  static constexpr uint8_t room = 12;

  Outbox() { clear(); }
  /// Power-up: nothing kept, numbers begin at 1.
  void clear();

  /// Room for one more, if need be by dropping the oldest read (the next one makes up for it).
  /// While there is none leave the events with the cart logic.
  bool has_room() const;
  /// Gives it the next number. False: no room, not taken.
  bool keep(const Event& event);
  /// The next number, for a state: that is sent at once and not kept.
  Seq number_state() { return ++last_; }

  /// The service has everything up to this number.
  void on_ack(Seq seq);
  /// A new link: what the service lacks is to be sent again, in order, with the number it had.
  void on_welcome(Seq seq);
  /// The oldest one not yet given on this link. False if there is none.
  bool next(Outgoing& out);

  uint8_t kept() const { return count_; }

 private:
  void drop(uint8_t index);

  Outgoing kept_[room];
  Seq last_;
  uint8_t count_;
  /// How many of them this link has been given.
  uint8_t given_;
};

}  // namespace cart
}  // namespace tagline
