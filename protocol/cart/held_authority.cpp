// Taking an authority point by point, and looking things up in it.
#include "protocol/cart/held_authority.hpp"

namespace tagline {
namespace cart {

void HeldAuthority::clear() {
  base_ = 0;
  trip_ = 0;
  count_ = 0;
  tag_count_ = 0;
  taking_ = false;
}

bool HeldAuthority::begin(Step first, Step last, Trip trip, Step passed) {
  taking_ = false;
  if (first == 0 || last < first) return false;
  if (passed != 0 && (first > passed || last < until() || trip < trip_)) return false;
  taking_ = true;
  trip_ = trip;
  // The point before the last one passed is kept to know its tag again.
  base_ = passed != 0 && first < passed ? passed - 1u : first;
  count_ = 0;
  tag_count_ = 0;
  return true;
}

bool HeldAuthority::add(const AuthorityPoint& point, const Tag* tags, uint8_t tag_count) {
  if (!taking_) return false;
  if (point.step < base_) return true;
  if (point.step != base_ + count_ || count_ == max_points || tag_count > max_tags - tag_count_) {
    taking_ = false;
    return false;
  }
  HeldPoint& kept = points_[count_++];
  kept.length = point.length;
  kept.speed = point.speed;
  kept.act = point.act;
  kept.branch = point.branch;
  kept.gear = point.gear;
  kept.first_tag = tag_count_;
  kept.tag_count = tag_count;
  for (uint8_t i = 0; i < tag_count; ++i) tags_[tag_count_++] = tags[i];
  return true;
}

bool HeldAuthority::has_tag(uint8_t index, const Tag& tag) const {
  const HeldPoint& point = points_[index];
  for (uint8_t i = 0; i < point.tag_count; ++i) {
    if (same_tag(tags_[point.first_tag + i], tag)) return true;
  }
  return false;
}

bool HeldAuthority::halts_at(uint8_t index) const {
  if (index + 1 == count_) return true;
  const Act act = points_[index].act;
  if (act == Act::turn || act == Act::load || act == Act::unload) return true;
  return points_[index].gear != points_[index + 1].gear;
}

}  // namespace cart
}  // namespace tagline
