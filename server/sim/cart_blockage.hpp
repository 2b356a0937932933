// What gets in the way of a cart of a fast run for a while: it stands at once, says so only after a
// moment, and goes on a moment after the way is free.
#pragma once

#include <algorithm>
#include <limits>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {

class CartBlockage {
 public:
  /// Its way is blocked until then, on top of what blocks it already.
  void block(double now, double until) {
    if (now >= free_again()) from_ = now;
    until_ = std::max(until_, until);
  }
  /// Something is in the way.
  [[nodiscard]] bool lasts(double now) const { return now < until_; }
  /// The cart stands because of it.
  [[nodiscard]] bool keeps(double now) const { return now < free_again() - figures::at_once_s; }
  /// The cart says so.
  [[nodiscard]] bool told(double now) const {
    return now >= told_from() - figures::at_once_s && keeps(now);
  }
  /// When keeps() or told() changes next; infinity if never.
  [[nodiscard]] double next_change(double now) const {
    if (!keeps(now)) return std::numeric_limits<double>::infinity();
    const bool untold = now < told_from() - figures::at_once_s;
    return untold ? std::min(told_from(), free_again()) : free_again();
  }

 private:
  static constexpr double long_ago = -1e18;
  [[nodiscard]] double told_from() const { return from_ + figures::blocked_told_s; }
  [[nodiscard]] double free_again() const { return until_ + figures::free_again_s; }

  double from_{long_ago}, until_{long_ago};
};

}  // namespace tagline::sim
