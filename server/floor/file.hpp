// Reads and writes the floor file, format tagline-floor/1. The only part of server/floor that
// knows JSON or files; it is a library of its own (tagline_floor_file) so that the core, which
// links only tagline_floor, cannot come to depend on them.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::floor {

/// One thing wrong with a floor file.
struct FileFinding {
  /// JSON pointer (RFC 6901) to the offending value; "" for the whole document.
  std::string pointer;
  /// What is wrong, with the value found.
  std::string wrong;
  /// What would be right.
  std::string right;
};

/// Either a whole valid floor, or every finding of one pass (never empty).
using LoadResult = std::variant<Floor, std::vector<FileFinding>>;

/// Parses a floor document. Never throws for bad input.
///
/// Beyond shared/floor-format.md: coordinates keep their decimals; lengths, speeds and
/// accelerations are rounded to whole mm, mm/s and mm/s2, handling times to whole ms. `chargers`
/// may be left out (none). A segment's speed above the cart's is refused, not lowered: one of the
/// two is a slip. Sane sizes are in file_limits.hpp. A text that is no JSON gives that one finding,
/// with line and column; otherwise all findings come in the order schema, references, geometry.
LoadResult parse_floor(std::string_view json_text);

/// Reads and parses a file (at most 16 MiB). An unreadable file is a finding with pointer "".
LoadResult load_floor(const std::filesystem::path& path);

/// "deploy/demo.floor.json: /segments/3/to: no point \"P99\"; name one of the points, e.g. \"P1\""
std::string describe(const std::filesystem::path& path, const FileFinding& finding);

/// The floor as a floor-file document, every value written out; parse_floor reads it back equal.
std::string format_floor(const Floor& floor);

}  // namespace tagline::floor
