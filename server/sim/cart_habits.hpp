// What carts of a fast run differ by, and what goes wrong with reads: everything about one cart
// that is drawn by chance. All of it comes from one source, so the order of the calls is part of a
// run.
#pragma once

#include "server/sim/random.hpp"

namespace tagline::sim {

/// What carts differ by, and what goes wrong with reads.
struct CartNature {
  /// Its speed is a factor of its own in [1 - noise, 1], and on each leg another one; handling
  /// takes the station's time times [1 - noise, 1 + noise].
  double noise{0};
  /// Share of passed tags that are not read.
  double miss_rate{0};
  /// Batteries run down (only where there is a charger).
  bool battery{true};
};

class CartHabits {
 public:
  CartHabits(CartNature nature, Random random)
      : nature_{nature}, random_{random}, pace_{leg_factor()} {}

  /// What this cart makes of any speed, 0 to 1.
  [[nodiscard]] double pace() const { return pace_; }
  /// What it makes of the speed on one leg, 0 to 1.
  double leg_factor() { return random_.between(1 - nature_.noise, 1); }
  /// It gets so many tries.
  bool reads_tag(int tries) {
    for (int i = 0; i < tries; ++i) {
      if (nature_.miss_rate <= 0 || !random_.chance(nature_.miss_rate)) return true;
    }
    return false;
  }
  /// How long a handling takes that usually takes `usual`.
  double handling_s(double usual) {
    return nature_.noise > 0 ? usual * random_.between(1 - nature_.noise, 1 + nature_.noise)
                             : usual;
  }

 private:
  CartNature nature_;
  Random random_;
  double pace_;
};

}  // namespace tagline::sim
