// The authority a cart holds: its points and their tags, in a fixed room.
#pragma once

#include <stdint.h>

#include "protocol/cart/terms.hpp"

namespace tagline {
namespace cart {

/// One point kept, and the way to it from the one before.
struct HeldPoint {
  int32_t length;
  uint16_t speed;
  Act act;
  Branch branch;
  Gear gear;
  uint8_t first_tag;
  uint8_t tag_count;
};

/// Points are numbered by index: [0] is the first one kept, [count() - 1] where the cart must stop.
class HeldAuthority {
 public:
  /// Points kept, counted from the one before the last passed, and tags of all of them together.
  static constexpr uint8_t max_points = 24;
  static constexpr uint8_t max_tags = 40;

  HeldAuthority() : base_(0), trip_(0), count_(0), tag_count_(0), taking_(false) {}
  void clear();

  /// Starts to replace what is held. `passed`: the last point the cart passed, 0 = it holds
  /// nothing. False: refused, nothing changes (see CartLogic::authority_begin()).
  bool begin(Step first, Step last, Trip trip, Step passed);
  /// In order of step, without gaps. False: no more room, this and later ones are dropped.
  bool add(const AuthorityPoint& point, const Tag* tags, uint8_t tag_count);
  void end() { taking_ = false; }

  uint8_t count() const { return count_; }
  /// Step of [0].
  Step base() const { return base_; }
  /// Step of the last point kept; 0 if there is none.
  Step until() const { return count_ == 0 ? 0 : base_ + count_ - 1u; }
  uint8_t index_of(Step step) const { return static_cast<uint8_t>(step - base_); }
  const HeldPoint& operator[](uint8_t index) const { return points_[index]; }
  bool has_tag(uint8_t index, const Tag& tag) const;
  /// The cart must come to rest there, if only to do something.
  bool halts_at(uint8_t index) const;

 private:
  HeldPoint points_[max_points];
  Tag tags_[max_tags];
  Step base_;
  Trip trip_;
  uint8_t count_;
  uint8_t tag_count_;
  bool taking_;
};

}  // namespace cart
}  // namespace tagline
