// How far the cart has come since a mark, and what its odometer is worth: that it learns from the
// known lengths between tags.
#pragma once

#include <stdint.h>

namespace tagline {
namespace cart {

class Reckoning {
 public:
  Reckoning() { clear(0); }
  /// Nothing marked, nothing learned.
  void clear(int32_t odometer);

  /// Grows forward, falls backward, mm.
  void set_odometer(int32_t odometer) { odometer_ = odometer; }
  /// By the odometer alone, since it stood so, mm.
  int32_t counted_since(int32_t odometer) const;

  /// A tag is under the reader. `length`: from the mark before to here, mm; it is learned from if a
  /// tag was there too. 0 = not known.
  void mark_tag(int32_t length);
  /// No tag: a place `behind` mm behind the reader, reckoned.
  void mark_place(int32_t behind);

  /// Since the mark, corrected by what has been learned, mm, never negative.
  int32_t travelled() const;

 private:
  int32_t odometer_;
  int32_t mark_;
  /// Lengths driven from tag to tag, and what the odometer counted for them.
  int32_t true_sum_;
  int32_t counted_sum_;
  bool mark_is_tag_;
};

}  // namespace cart
}  // namespace tagline
