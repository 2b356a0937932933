// The service's clock: it starts no earlier than anything ever recorded, runs `pace` times faster
// than the wall, and never goes back, whatever is done to the machine's clock meanwhile.
#pragma once

#include <chrono>

#include "server/floor/units.hpp"

namespace tagline::net {

/// Thread-safe (immutable).
class ServiceClock {
 public:
  /// `latest` is the latest moment in the records; `pace` is 1 to 100.
  ServiceClock(Instant latest, int pace) : pace_(pace), started_(std::chrono::steady_clock::now()) {
    const auto wall =
        std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
    start_ = wall < latest ? latest : wall;
  }

  [[nodiscard]] Instant now() const {
    return start_ + std::chrono::duration_cast<Duration>(
                        (std::chrono::steady_clock::now() - started_) * pace_);
  }
  [[nodiscard]] int pace() const { return pace_; }
  /// Real time since the start.
  [[nodiscard]] std::chrono::steady_clock::duration up() const {
    return std::chrono::steady_clock::now() - started_;
  }

 private:
  int pace_;
  std::chrono::steady_clock::time_point started_;
  Instant start_;
};

}  // namespace tagline::net
