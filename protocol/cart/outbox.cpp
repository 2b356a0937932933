// A short list, oldest first.
#include "protocol/cart/outbox.hpp"

namespace tagline {
namespace cart {

void Outbox::clear() {
  last_ = 0;
  count_ = 0;
  given_ = 0;
}

bool Outbox::has_room() const {
  if (count_ < room) return true;
  for (uint8_t i = 0; i < count_; ++i) {
    if (kept_[i].event.kind == EventKind::read) return true;
  }
  return false;
}

bool Outbox::keep(const Event& event) {
  for (uint8_t i = 0; count_ == room && i < count_; ++i) {
    if (kept_[i].event.kind == EventKind::read) drop(i);
  }
  if (count_ == room) return false;
  kept_[count_].seq = ++last_;
  kept_[count_].event = event;
  ++count_;
  return true;
}

void Outbox::drop(uint8_t index) {
  for (uint8_t i = index; i + 1 < count_; ++i) kept_[i] = kept_[i + 1];
  --count_;
  if (index < given_) --given_;
}

void Outbox::on_ack(Seq seq) {
  while (count_ > 0 && kept_[0].seq <= seq) drop(0);
}

void Outbox::on_welcome(Seq seq) {
  on_ack(seq);
  given_ = 0;
}

bool Outbox::next(Outgoing& out) {
  if (given_ == count_) return false;
  out = kept_[given_++];
  return true;
}

}  // namespace cart
}  // namespace tagline
