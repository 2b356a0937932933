// The trip that the bench program drives. C++14 for firmware.
#pragma once

#include <stdint.h>

#include "tests/firmware/bench/bench.hpp"

namespace tagline {
namespace bench {

/// Where the points of the trip lie, mm along the way.
struct Place {
  const char* point;
  const char* uid;
  int32_t at;
};
constexpr uint8_t places = 10;
/// H1 P3 P4 P5 P6 P7 P8 P1 A1 H1
extern const Place way[places];
/// A tag of another works, lost on the tape, mm along the way.
extern const char foreign_uid[];
constexpr int32_t foreign_at = 14700;

/// Drives the whole trip on a new bench; it writes down what the cart says and does.
void run_trip(Bench& bench);

}  // namespace bench
}  // namespace tagline
