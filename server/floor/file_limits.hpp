// The largest and smallest values a floor file may hold. They are far beyond any workshop: their
// job is to refuse slips (metres for millimetres, a lost decimal point) and files made to harm.
// All are common practice, no source.
#pragma once

#include <cstddef>

#include "server/floor/floor.hpp"

namespace tagline::floor::limits {

inline constexpr std::size_t file_bytes = 16 * 1024 * 1024;
/// Objects and lists inside one another; a floor file needs 5.
inline constexpr std::size_t nesting = 32;
/// Numbers, texts, lists and objects in one file.
inline constexpr std::size_t values = 2'000'000;
/// Keys in one object; a floor file needs 10.
inline constexpr std::size_t members = 100;
/// Findings listed for one file; how many more there are is said after them.
inline constexpr std::size_t findings = 1000;

inline constexpr std::size_t id_chars = 32;
inline constexpr std::size_t name_bytes = 200;
inline constexpr std::size_t points = 10'000;
inline constexpr std::size_t tags_per_point = 16;
inline constexpr std::size_t segments = 20'000;
inline constexpr std::size_t via_per_segment = 1000;
inline constexpr std::size_t stations = 2000;
inline constexpr std::size_t chargers = 2000;
inline constexpr std::size_t conflicts = 100'000;
inline constexpr std::size_t demand = 10'000;
inline constexpr std::size_t zones = 200;

inline constexpr double coordinate_mm = 1'000'000;  // 1 km from the origin, either way
inline constexpr double segment_mm = 200'000;
/// Places of a line nearer to each other than this are one place: no direction leads between.
inline constexpr double same_place_mm = 0.5;
/// How much shorter than the straight way a measured length may be: rounding, a slack tape measure.
inline constexpr double length_slack_mm = 5;
inline constexpr double length_slack_share = 0.005;

inline constexpr double cart_length_min_mm = 100, cart_length_max_mm = 5000;
inline constexpr double cart_width_min_mm = 100, cart_width_max_mm = 3000;
inline constexpr double clearance_mm = 2000;
inline constexpr double speed_min_mm_s = 10, speed_max_mm_s = 3000;
inline constexpr double acceleration_min_mm_s2 = 10, acceleration_max_mm_s2 = 10'000;

inline constexpr double handling_s = 3600;
/// Also the most that a person may count at a station (server/net/API.md): a full one can be told.
inline constexpr int capacity_loads = Station::most_loads;
inline constexpr double jobs_per_hour = 3600;

}  // namespace tagline::floor::limits
