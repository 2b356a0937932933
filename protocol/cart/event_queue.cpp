// A ring of events.
#include "protocol/cart/event_queue.hpp"

namespace tagline {
namespace cart {

uint8_t EventQueue::least_needed() const {
  uint8_t found = room;
  for (uint8_t i = 0; i < count_; ++i) {
    const EventKind kind = events_[(first_ + i) % room].kind;
    if (kind == EventKind::read) return i;
    if (kind != EventKind::done && found == room) found = i;
  }
  return found == room ? 0 : found;
}

void EventQueue::push(const Event& event) {
  if (count_ == room) {
    if (event.kind == EventKind::read) return;
    for (uint8_t i = least_needed(); i > 0; --i) {
      events_[(first_ + i) % room] = events_[(first_ + i - 1) % room];
    }
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
