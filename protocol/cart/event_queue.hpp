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

  /// When it is full, which never happens while events are taken after every step, a read is
  /// dropped (the next one makes up for it); anything else drops the oldest instead.
  void push(const Event& event);
  /// False, and `out` untouched, if there is none.
  bool pop(Event& out);

 private:
  Event events_[room];
  uint8_t first_;
  uint8_t count_;
};

}  // namespace cart
}  // namespace tagline
