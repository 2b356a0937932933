// Odometer against known lengths.
#include "protocol/cart/reckoning.hpp"

namespace tagline {
namespace cart {

namespace {

/// The odometer is trusted as it is until so much track has been compared with it; and of so much
/// track the comparison is kept, mm.
constexpr int32_t learn_after = 10000;
constexpr int32_t learn_limit = 60000;

int32_t magnitude(int32_t value) { return value < 0 ? -value : value; }

}  // namespace

void Reckoning::clear(int32_t odometer) {
  odometer_ = odometer;
  mark_ = 0;
  true_sum_ = 0;
  counted_sum_ = 0;
  mark_is_tag_ = false;
}

int32_t Reckoning::counted_since(int32_t odometer) const { return magnitude(odometer_ - odometer); }

void Reckoning::mark_tag(int32_t length) {
  if (mark_is_tag_ && length != 0) {
    const int32_t counted = counted_since(mark_);
    // What differs more than this says that something slipped, not what the odometer is worth.
    if (length <= learn_limit / 2 && magnitude(counted - length) <= 30 + length / 33) {
      true_sum_ += length;
      counted_sum_ += counted;
      if (true_sum_ > learn_limit) {
        true_sum_ /= 2;
        counted_sum_ /= 2;
      }
    }
  }
  mark_ = odometer_;
  mark_is_tag_ = true;
}

void Reckoning::mark_place(int32_t behind) {
  mark_ = odometer_ - behind;
  mark_is_tag_ = false;
}

int32_t Reckoning::travelled() const {
  const int32_t counted = counted_since(mark_);
  if (counted_sum_ < learn_after || counted > learn_limit / 2) return counted;
  return counted * true_sum_ / counted_sum_;  // below 2^31: 30 m times 61 m
}

}  // namespace cart
}  // namespace tagline
