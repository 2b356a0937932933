// What a person has taken out of service: a segment while somebody works on it, a station whose
// machine is off, a cart for its inspection.
//
// A segment: no cart is let onto it; ways lead round it, or carts wait before it and say so. A cart
// that is on it, or was granted it before, may still drive off it, so whoever wants to work there
// waits until it is clear. A station: no job with a stop there is begun; loads that are on their
// way still come. A cart: it takes no job and rests when it is done with what it has.
//
// Nothing comes back into service by itself: `until` is what people expect. This keeps carts away
// from work on the track as far as the service goes; it protects nobody (protocol/README.md).
#pragma once

#include <optional>
#include <string>
#include <variant>

#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::control {

using Facility = std::variant<SegmentIx, StationIx, CartIx>;

inline constexpr std::size_t longest_downtime_reason = 200;

struct Downtime {
  Facility what;
  /// For people; "" if none was given.
  std::string reason;
  Instant from;
  /// When it is expected back.
  std::optional<Instant> until;
  bool operator==(const Downtime&) const = default;
};

/// A downtime as it stands.
struct DowntimeView {
  Downtime downtime;
  /// `from` has come.
  bool begun{};
  /// Begun, and no cart has that segment any more (or is on its way to that station, or has a job).
  bool clear{};
};

}  // namespace tagline::control
