// See event_bytes.hpp.
#include "server/replay/event_bytes.hpp"

#include <algorithm>

#include "server/control/event_names.hpp"

namespace tagline::replay {
namespace {

using Lines = std::vector<std::string>;

template <std::size_t... I>
Lines lines_of(std::index_sequence<I...> /*all*/) {
  return {std::string(control::event_name<std::variant_alternative_t<I, control::Event>>()) +
          shape_of<std::variant_alternative_t<I, control::Event>>()...};
}

Lines own_lines() {
  return lines_of(std::make_index_sequence<std::variant_size_v<control::Event>>());
}

}  // namespace

std::string event_layout() {
  std::string layout;
  for (const std::string& line : own_lines()) layout += line + "\n";
  return layout;
}

EventReader::EventReader(std::string_view layout, const Limits& limits) : limits_(limits) {
  const Lines own = own_lines();
  while (!layout.empty()) {
    const std::size_t end = std::min(layout.find('\n'), layout.size());
    const std::string_view line = layout.substr(0, end);
    layout.remove_prefix(std::min(end + 1, layout.size()));
    Kind& kind = kinds_.emplace_back();
    kind.word = line.substr(0, line.find('('));
    const auto found = std::find(own.begin(), own.end(), line);
    if (found != own.end()) kind.place = static_cast<std::size_t>(found - own.begin());
  }
}

control::Event EventReader::read(unsigned code, In& in) const {
  if (code >= kinds_.size()) throw BadBytes("it has an event of a kind that there is not");
  const Kind& kind = kinds_[code];
  if (!kind.place) {
    throw BadBytes("it has an event \"" + kind.word +
                   "\" as another version of this program writes it; use that version");
  }
  control::Event event;
  get_alternative(in, event, *kind.place);
  return event;
}

}  // namespace tagline::replay
