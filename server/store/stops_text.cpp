// Stops to text and back.
#include "server/store/stops_text.hpp"

#include <algorithm>

namespace tagline::store {
namespace {

constexpr std::string_view load = "load", unload = "unload";

}  // namespace

std::string stops_text(const Names& names, const std::vector<control::JobStop>& stops) {
  std::string text;
  for (const control::JobStop& stop : stops) {
    if (!text.empty()) text += ' ';
    text += names.of(stop.station);
    text += ':';
    text += stop.what == control::Handling::load ? load : unload;
  }
  return text;
}

StopsRead stops_from(const Names& names, std::string_view text) {
  StopsRead read;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    const std::string_view stop = text.substr(start, end - start);
    const std::size_t colon = stop.find(':');
    const std::string_view what =
        colon == std::string_view::npos ? std::string_view() : stop.substr(colon + 1);
    if (colon == 0 || (what != load && what != unload)) {
      read.malformed = true;
      return read;
    }
    const std::string id(stop.substr(0, colon));
    if (const auto station = names.station(id)) {
      read.stops.push_back(
          {*station, what == load ? control::Handling::load : control::Handling::unload});
    } else if (read.missing.empty()) {
      read.missing = id;
    }
    start = end + 1;
  }
  return read;
}

}  // namespace tagline::store
