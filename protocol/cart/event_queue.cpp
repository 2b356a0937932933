// A ring of events.
#include "protocol/cart/event_queue.hpp"

namespace tagline {
namespace cart {

void EventQueue::push(const Event& event) {
  if (count_ == room) {
    if (event.kind == EventKind::read) return;
    first_ = static_cast<uint8_t>((first_ + 1) % room);
    --count_;
  }
  events_[(first_ + count_) % room] = event;
  ++count_;
}

bool EventQueue::pop(Event& out) {
  if (count_ == 0) return false;
  out = events_[first_];
  first_ = static_cast<uint8_t>((first_ + 1) % room);
  --count_;
  return true;
}

}  // namespace cart
}  // namespace tagline
