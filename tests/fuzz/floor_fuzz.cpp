// Fuzzes the loader of the floor file: a floor, or findings that a person can act on. A floor that
// is taken is written and read again as the same, and a small one can be worked with.
#include <cstddef>
#include <cstdint>
#include <string>

#include "server/floor/file.hpp"
#include "server/floor/track.hpp"
#include "tests/fuzz/must.hpp"

namespace {

using tagline::fuzz::must;
namespace floor_of = tagline::floor;

/// Sweeping bodies along a floor takes milliseconds; beyond this it would be all that is run.
constexpr std::size_t most_points = 6;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto loaded = floor_of::parse_floor(text);
  if (const auto* findings = std::get_if<std::vector<floor_of::FileFinding>>(&loaded)) {
    must(!findings->empty(), "a refused floor has findings");
    for (const auto& finding : *findings) {
      must(!finding.wrong.empty() && !finding.right.empty(),
           "a finding says what is wrong and right", floor_of::describe("f.json", finding));
    }
    return 0;
  }
  const auto& floor = std::get<floor_of::Floor>(loaded);
  const std::string written = floor_of::format_floor(floor);
  const auto again = floor_of::parse_floor(written);
  const auto* same = std::get_if<floor_of::Floor>(&again);
  must(same != nullptr, "a floor that was written can be read", written);
  must(floor_of::format_floor(*same) == written, "a floor is read as it was written", written);
  if (floor.points.size() <= most_points) {
    const floor_of::Ways ways(floor);
    const floor_of::Track track(ways);
    must(track.piece_count() == floor.points.size() + floor.segments.size(),
         "every point and segment is a piece", written);
  }
  return 0;
}
