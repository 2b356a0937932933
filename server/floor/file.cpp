// The loader: reads the text, runs the passes of file_draft.hpp one after the other whatever each
// of them found, and hands out a floor only if none found anything.
#include "server/floor/file.hpp"

#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

#include "server/floor/file_draft.hpp"
#include "server/floor/file_limits.hpp"

namespace tagline::floor {
namespace {

/// Only for a draft without findings: then every optional that must be there is there.
Floor assemble(Draft&& draft, Resolved&& resolved, const std::vector<Mm>& lengths) {
  Floor floor;
  floor.name = std::move(draft.name);
  floor.cart = draft.cart;
  for (DraftPoint& point : draft.points) {
    floor.points.push_back(
        {std::move(*point.id), *point.at, std::move(point.tags), point.siding, point.turn_round});
  }
  for (std::size_t s = 0; s < draft.segments.size(); ++s) {
    DraftSegment& segment = draft.segments[s];
    floor.segments.push_back({std::move(*segment.id), *resolved.segments[s].from,
                              *resolved.segments[s].to, lengths[s],
                              segment.speed.value_or(floor.cart.speed), segment.two_way,
                              segment.spur, std::move(segment.via), segment.turn});
  }
  for (std::size_t s = 0; s < draft.stations.size(); ++s) {
    DraftStation& station = draft.stations[s];
    floor.stations.push_back({std::move(*station.id), std::move(station.name),
                              *resolved.stations[s], station.load, station.unload,
                              station.capacity});
  }
  for (std::size_t c = 0; c < draft.chargers.size(); ++c) {
    floor.chargers.push_back({std::move(*draft.chargers[c].id), *resolved.chargers[c]});
  }
  floor.conflicts = std::move(resolved.conflicts);
  floor.demand = std::move(resolved.demand);
  for (std::size_t z = 0; z < draft.zones.size(); ++z) {
    floor.zones.push_back({std::move(*draft.zones[z].id), std::move(draft.zones[z].name),
                           std::move(resolved.zones[z])});
  }
  return floor;
}

std::vector<FileFinding> unreadable(std::string wrong, std::string right) {
  return {{"", std::move(wrong), std::move(right)}};
}

}  // namespace

LoadResult parse_floor(std::string_view json_text) {
  Findings findings;
  if (json_text.size() > limits::file_bytes) {
    return unreadable("the file has " + std::to_string(json_text.size()) + " bytes",
                      "a floor file has at most 16 MiB");
  }
  const auto document = read_document(json_text, findings);
  if (!document) return findings.take();
  Draft draft = read_schema(*document, findings);
  Resolved resolved = resolve(draft, findings);
  const std::vector<Mm> lengths = check_geometry(draft, resolved, findings);
  if (!findings.empty()) return findings.take();
  return assemble(std::move(draft), std::move(resolved), lengths);
}

LoadResult load_floor(const std::filesystem::path& path) {
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (!std::filesystem::exists(status)) {
    return unreadable("there is no such file", "name a floor file (tagline-floor/1)");
  }
  if (std::filesystem::is_directory(status)) {
    return unreadable("this is a folder", "name the floor file in it");
  }
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    return unreadable("the file can't be opened: " + std::string(std::strerror(errno)),
                      "see to it that this user may read it");
  }
  // Reads at most one byte too many: a device or a growing file must not fill the memory.
  std::string text(limits::file_bytes + 1, '\0');
  file.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (file.bad()) return unreadable("reading the file failed", "see to the disk it is on");
  text.resize(static_cast<std::size_t>(file.gcount()));
  if (text.size() > limits::file_bytes) {
    return unreadable("the file has more than 16 MiB", "a floor file has at most 16 MiB");
  }
  return parse_floor(text);
}

std::string describe(const std::filesystem::path& path, const FileFinding& finding) {
  std::string text = path.string() + ": ";
  if (!finding.pointer.empty()) text += finding.pointer + ": ";
  return text + finding.wrong + "; " + finding.right;
}

}  // namespace tagline::floor
