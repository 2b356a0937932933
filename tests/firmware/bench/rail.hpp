// The world of the bench program: a cart's body on a line of tape with tags, in whole numbers, so
// that it does the very same on every machine. C++14 for firmware.
#pragma once

#include <stdint.h>

#include "protocol/cart/tag.hpp"
#include "protocol/cart/terms.hpp"

namespace tagline {
namespace bench {

class Rail {
 public:
  static constexpr uint8_t max_tags = 12;
  static constexpr uint32_t step_ms = 20;

  /// A tag glued down at `place`, mm along the way. At most max_tags.
  void lay(const char* uid, int32_t place);
  /// A dirty tag is not read; lies further on as it was.
  void set_dirty(const char* uid, bool dirty);
  /// Something is in the scanner's field.
  void set_obstacle(bool obstacle) { senses_.obstacle = obstacle; }
  /// The wheel counter begins at 0 again, as after a loss of power.
  void restart_odometer();

  /// Moves the body for one step as it was last told, then senses.
  void step(const cart::Drive& drive);

  const cart::Senses& senses() const { return senses_; }
  /// The tag under the reader, or null.
  const cart::Tag* under_reader() const;
  /// Where the reader truly is, mm along the way.
  int32_t place() const { return place_um_ / 1000; }

 private:
  struct Laid {
    cart::Tag tag;
    int32_t place;
    bool dirty;
  };
  int32_t counted() const;

  Laid laid_[max_tags];
  uint8_t count_ = 0;
  cart::Senses senses_ = {0, 0, true, false, true, false, false};
  int32_t place_um_ = 0;
  int32_t odometer_zero_ = 0;
  int32_t speed_ = 0;
  /// How long it has been turning or handling, ms.
  uint32_t busy_ms_ = 0;
};

}  // namespace bench
}  // namespace tagline
