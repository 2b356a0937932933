// The stops of a job between its first and its last as text, by station id.
//
//   stops = [ stop { " " stop } ]     stop = station ":" ( "load" | "unload" )
//
// e.g. "GLAZE:unload KILN:load". Ids have no ":" or blank (floor file format).
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "server/control/job.hpp"
#include "server/store/names.hpp"

namespace tagline::store {

std::string stops_text(const Names& names, const std::vector<control::JobStop>& stops);

/// A list of stops read back.
struct StopsRead {
  std::vector<control::JobStop> stops;
  /// The first station that the floor lacks; `stops` is then not to be used. "" if it has all.
  std::string missing;
  /// The text is none that stops_text() writes.
  bool malformed{};
};
StopsRead stops_from(const Names& names, std::string_view text);

}  // namespace tagline::store
