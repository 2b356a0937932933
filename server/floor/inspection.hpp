// What is wrong with a floor, or could be better, as far as the tape alone tells: findings for the
// people who lay it. Each names place, figure, rule with its source, and remedy.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "server/floor/merges.hpp"

namespace tagline::floor {

enum class Severity {
  forbids,  // carts must not run before it is put right: a cart would get stuck, or go astray
  costs,    // carts can run, but wait or detour where they need not
  note,     // worth knowing; may well be meant so
};

struct Finding {
  Severity severity{};
  /// One word or two for programs, e.g. "no-tag". Never changes its meaning.
  std::string kind{};
  /// For people: "station KILN (Biscuit kiln) at P36".
  std::string place{};
  Position at;
  /// What was found, a sentence with the figure.
  std::string figure{};
  /// What should be, a sentence.
  std::string rule{};
  /// Where the rule comes from: a standard, a formula, or "common practice, no source".
  std::string source{};
  /// What to do, a sentence.
  std::string remedy{};
};

struct Inspection {
  /// By severity, then in the order found.
  std::vector<Finding> findings;
  std::vector<Merge> merges;
  std::vector<Crossing> crossings;
};

/// A service answers a tag read, over poor Wi-Fi, within this (common practice, no source).
inline constexpr Duration link_latency{500};
/// A low-cost 13.56 MHz reader sees a floor tag within 20 to 50 mm and needs some 30 to 100 ms
/// (common practice, no source). The larger of each is reckoned with.
inline constexpr Mm reader_window{50};
inline constexpr Duration reader_time{100};

/// Every finding that needs only the track: ways, tags, forks, merges, crossings, sidings,
/// chargers, spurs, two-way stretches, stations in the way, unused tape.
Inspection inspect(const Track& track);

/// "forbids", "costs" or "note".
std::string_view name_of(Severity severity);

}  // namespace tagline::floor
