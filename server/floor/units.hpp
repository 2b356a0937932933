// Strong types for the quantities the floor is measured in, so that a length can never be
// passed where a speed is meant. Everything is a whole number: the core must decide the same
// thing on every machine, so no floating point takes part in a decision.
#pragma once

#include <chrono>
#include <compare>
#include <cstdint>

namespace tagline {

/// A whole number of one unit. Adds, subtracts and compares only with its own kind.
template <class Unit>
struct Quantity {
  std::int64_t value{};

  constexpr auto operator<=>(const Quantity&) const = default;
  constexpr Quantity& operator+=(Quantity other) {
    value += other.value;
    return *this;
  }
  constexpr Quantity& operator-=(Quantity other) {
    value -= other.value;
    return *this;
  }
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return {a.value + b.value}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return {a.value - b.value}; }
  friend constexpr Quantity operator*(Quantity a, std::int64_t k) { return {a.value * k}; }
};

using Mm = Quantity<struct MillimetreUnit>;
using MmPerS = Quantity<struct MillimetrePerSecondUnit>;
using MmPerS2 = Quantity<struct MillimetrePerSecondSquaredUnit>;

/// A span of time, ms.
using Duration = std::chrono::milliseconds;

/// A moment, ms since 1970-01-01T00:00:00Z (UTC). The core is told it and never asks a clock.
using Instant = std::chrono::sys_time<std::chrono::milliseconds>;

/// Time to drive `length` at a constant `speed`, rounded up to a whole ms. `speed` must be > 0.
constexpr Duration time_to_drive(Mm length, MmPerS speed) {
  return Duration{(length.value * 1000 + speed.value - 1) / speed.value};
}

}  // namespace tagline
