// Events as bytes. Each kind has the code of its place in control::Event; since that may change
// with a version of this program, what is written goes with the layout it was written in.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/control/events.hpp"
#include "server/replay/bytes.hpp"

namespace tagline::replay {

/// The word and the shape of each kind of event, in the order of their codes: "reads(xsu)\n...".
std::string event_layout();

inline unsigned event_code(const control::Event& event) {
  return static_cast<unsigned>(event.index());
}

/// Reads events written in a layout, this program's or that of an older one.
class EventReader {
 public:
  EventReader(std::string_view layout, const Limits& limits);

  /// The event of that code. Throws BadBytes; also if this program makes such an event of other
  /// parts than the one that wrote it.
  [[nodiscard]] control::Event read(unsigned code, In& in) const;
  [[nodiscard]] const Limits& limits() const { return limits_; }

 private:
  struct Kind {
    std::string word;
    /// Its place in control::Event; nothing if this program has none of that word and shape.
    std::optional<std::size_t> place;
  };
  std::vector<Kind> kinds_;  // by code
  Limits limits_;
};

}  // namespace tagline::replay
