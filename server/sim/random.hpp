// A small random source that gives the same numbers on every machine and library, so that a
// seed means one run. SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom number
// generators", OOPSLA 2014.
#pragma once

#include <cstdint>

namespace tagline::sim {

class Random {
 public:
  explicit Random(std::uint64_t seed) : state_{seed} {}

  std::uint64_t next() {
    state_ += 0x9E3779B97F4A7C15ULL;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31U);
  }
  /// In [low, high).
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(next() >> 11U) * 0x1.0p-53;
  }
  /// True with this probability.
  bool chance(double probability) { return between(0, 1) < probability; }

 private:
  std::uint64_t state_;
};

}  // namespace tagline::sim
