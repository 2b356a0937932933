// When things go wrong in a fast run, and for how long: stalls and lost links, each a Poisson
// stream per cart, and what people take out of service, a stream for the floor. All of them draw
// from one source, so the order of the calls is part of a run.
#pragma once

#include <cmath>
#include <cstdint>

#include "server/sim/fleet_figures.hpp"
#include "server/sim/random.hpp"

namespace tagline::sim {

class FleetMishaps {
 public:
  /// Rates of stalls and drops are per cart; a kind whose rate is 0 must not be asked for its next
  /// time.
  FleetMishaps(Random random, double stalls_per_hour, double drops_per_hour,
               double closings_per_hour)
      : random_{random},
        stalls_per_hour_{stalls_per_hour},
        drops_per_hour_{drops_per_hour},
        closings_per_hour_{closings_per_hour} {}

  [[nodiscard]] bool stalls() const { return stalls_per_hour_ > 0; }
  [[nodiscard]] bool drops() const { return drops_per_hour_ > 0; }
  [[nodiscard]] bool closings() const { return closings_per_hour_ > 0; }

  /// The moment after `now`, s.
  double next_stall(double now) { return next(now, stalls_per_hour_); }
  double next_drop(double now) { return next(now, drops_per_hour_); }
  double next_closing(double now) { return next(now, closings_per_hour_); }
  /// How long it lasts, s.
  double stall_lasts() { return random_.between(figures::stall_least_s, figures::stall_most_s); }
  double drop_lasts() { return random_.between(figures::drop_least_s, figures::drop_most_s); }
  double closing_lasts() {
    return random_.between(figures::closing_least_s, figures::closing_most_s);
  }
  /// One of so many, from 0.
  std::uint32_t pick(std::size_t count) {
    return static_cast<std::uint32_t>(random_.next() % count);
  }

 private:
  double next(double now, double per_hour) {
    return now - std::log(1 - random_.between(0, 1)) * 3600 / per_hour;
  }

  Random random_;
  double stalls_per_hour_, drops_per_hour_, closings_per_hour_;
};

}  // namespace tagline::sim
