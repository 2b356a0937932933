// Motion, wheel counter and reader of the bench's cart.
#include "tests/firmware/bench/rail.hpp"

namespace tagline {
namespace bench {

namespace {

/// ms
constexpr int32_t one_step = static_cast<int32_t>(Rail::step_ms);
/// mm/s in one step: 300 mm/s2 up, 600 mm/s2 down.
constexpr int32_t faster = 300 * one_step / 1000;
constexpr int32_t slower = 600 * one_step / 1000;
/// The reader sees a tag from so far before to so far behind it, mm.
constexpr int32_t window = 25;
constexpr uint32_t turn_ms = 4000;
constexpr uint32_t handling_ms = 3000;

}  // namespace

void Rail::lay(const char* uid, int32_t place) {
  if (count_ == max_tags) return;
  cart::tag_from_hex(uid, laid_[count_].tag);
  laid_[count_].place = place;
  laid_[count_].dirty = false;
  ++count_;
}

void Rail::set_dirty(const char* uid, bool dirty) {
  cart::Tag tag = cart::no_tag();
  cart::tag_from_hex(uid, tag);
  for (uint8_t i = 0; i < count_; ++i) {
    if (cart::same_tag(laid_[i].tag, tag)) laid_[i].dirty = dirty;
  }
}

/// The wheels' diameter is a little smaller than believed: 3 mm in a metre too much.
int32_t Rail::counted() const { return place_um_ / 1000 + place_um_ / 333333; }

void Rail::restart_odometer() {
  odometer_zero_ = counted();
  senses_.odometer = 0;
}

void Rail::step(const cart::Drive& drive) {
  const bool busy = drive.turn || drive.handling != cart::Handling::none;
  const int32_t target = busy ? 0 : drive.speed;
  if (speed_ < target) {
    speed_ = speed_ + faster < target ? speed_ + faster : target;
  } else {
    speed_ = speed_ - slower > target ? speed_ - slower : target;
  }
  const int32_t moved_um = speed_ * one_step;
  place_um_ += drive.gear == cart::Gear::back ? -moved_um : moved_um;

  busy_ms_ = busy ? busy_ms_ + Rail::step_ms : 0;
  senses_.time_ms += Rail::step_ms;
  senses_.odometer = counted() - odometer_zero_;
  senses_.standing = speed_ == 0;
  senses_.turned = drive.turn && busy_ms_ == turn_ms;
  senses_.handled = drive.handling != cart::Handling::none && busy_ms_ == handling_ms;
  senses_.tape = !drive.straight_on;
}

const cart::Tag* Rail::under_reader() const {
  for (uint8_t i = 0; i < count_; ++i) {
    const int32_t off = place() - laid_[i].place;
    if (off >= -window && off <= window && !laid_[i].dirty) return &laid_[i].tag;
  }
  return nullptr;
}

}  // namespace bench
}  // namespace tagline
