// Sums that are kept while the works run, because nothing else that is stored could tell them
// later: what each cart's time went into, and how long carts waited for each merge. Of each quarter
// of an hour, because every offset from UTC in use is whole quarters: so any place's day can be put
// together from them.
#pragma once

#include <array>
#include <chrono>
#include <optional>
#include <string_view>
#include <vector>

#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::figures {

inline constexpr Duration quarter = std::chrono::minutes{15};

/// The full quarter of an hour (UTC) at or before a moment.
constexpr Instant quarter_of(Instant at) {
  return Instant{at.time_since_epoch() / quarter * quarter};
}

/// What a cart's time goes into.
enum class Use {
  moving,    // it has track ahead
  waiting,   // it stands on its way because it is given no more track
  handling,  // it stands at a station to be loaded or unloaded
  charging,
  idle,  // at rest, free for a job
  out,   // nothing can be asked of it: off the floor, not connected, in doubt, to be released by a
         // person (also while all are stopped), or with a fault
};
inline constexpr std::array all_uses{Use::moving,   Use::waiting, Use::handling,
                                     Use::charging, Use::idle,    Use::out};

/// As in the interface and the database.
constexpr std::string_view word(Use use) {
  constexpr std::array<std::string_view, all_uses.size()> words{"moving",   "waiting", "handling",
                                                                "charging", "idle",    "out"};
  return words[static_cast<std::size_t>(use)];
}
constexpr std::optional<Use> use_from(std::string_view text) {
  for (const Use use : all_uses)
    if (word(use) == text) return use;
  return std::nullopt;
}

/// To be added to what is known of that quarter.
struct CartTime {
  Instant quarter;
  CartIx cart;
  Use use{};
  Duration time{};
};
struct MergeWait {
  Instant quarter;
  PointIx merge;
  /// Waits that began in it.
  int waits{};
  Duration time{};
};
struct Sums {
  std::vector<CartTime> carts;
  std::vector<MergeWait> merges;
  [[nodiscard]] bool empty() const { return carts.empty() && merges.empty(); }
};

}  // namespace tagline::figures
