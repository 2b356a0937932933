// What the cart has still to tell the service, oldest first, in a fixed room.
#pragma once

#include <stdint.h>

#include "protocol/cart/terms.hpp"

namespace tagline {
namespace cart {

class EventQueue {
 public:
  static constexpr uint8_t room = 8;

  EventQueue() : first_(0), count_(0) {}
  void clear() {
    first_ = 0;
    count_ = 0;
  }

  /// When it is full, which happens only while they can't be told, a read is dropped (the next one
  /// makes up for it). Anything else drops the oldest read instead; if there is none, the oldest
  /// stop or release, which later ones have overtaken; a done only if there is nothing else.
  void push(const Event& event);
  /// False, and `out` untouched, if there is none.
  bool pop(Event& out);

 private:
  uint8_t least_needed() const;

  Event events_[room];
  uint8_t first_;
  uint8_t count_;
};

}  // namespace cart
}  // namespace tagline
