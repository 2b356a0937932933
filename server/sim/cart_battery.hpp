// The battery of a cart of a fast run: driving runs it down, a charger fills it, evenly.
#pragma once

#include <algorithm>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {

class CartBattery {
 public:
  /// One that doesn't run down is always full.
  explicit CartBattery(bool runs_down) : runs_down_{runs_down} {}

  /// 0 to 100; a little below 0 once it is empty, for the way it took to stop.
  [[nodiscard]] double percent() const { return percent_; }
  [[nodiscard]] bool empty() const { return percent_ <= 0; }
  [[nodiscard]] bool full() const { return percent_ >= 100; }

  void drive(double mm) {
    if (runs_down_) percent_ -= mm * 100 / figures::battery_mm;
  }
  /// At a charger for so long; gives how much of that it took until it was full.
  double charge(double seconds) {
    const double rate = 100 / figures::charging_s;
    const double to_full = (100 - percent_) / rate;
    percent_ = seconds >= to_full ? 100 : percent_ + seconds * rate;
    return std::min(seconds, to_full);
  }
  void change() { percent_ = 100; }

 private:
  bool runs_down_;
  double percent_{100};
};

}  // namespace tagline::sim
