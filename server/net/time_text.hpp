// Moments as texts of RFC 3339, as the interface and the live updates have them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "server/floor/units.hpp"

namespace tagline::net {

/// "2026-11-25T09:30:00.123Z".
std::string time_text(Instant at);

/// Reads a `date-time` of RFC 3339, 5.6, from 1970 on: "2026-11-25T10:30:00.123+01:00". Fractions
/// beyond a millisecond are cut off; a leap second is the second after it, as clocks without leap
/// seconds have it. Nothing if it is no such text: the offset from UTC must be there.
std::optional<Instant> time_from(std::string_view text);

}  // namespace tagline::net
