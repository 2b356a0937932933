// What the core lets be seen, as the JSON texts of API.md. Strings, not JSON objects, so that no
// other header has to know the JSON library.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "server/control/view.hpp"
#include "server/floor/track.hpp"

namespace tagline::net {

/// "2026-11-25T09:30:00.123Z" (RFC 3339).
std::string time_text(Instant at);

/// A JSON string literal, quotes included. Bytes that are no UTF-8 become U+FFFD.
std::string json_quote(std::string_view text);

/// Turns indices into ids while writing. Keeps references; all three must outlive it.
class JsonView {
 public:
  JsonView(const floor::Track& track, const std::vector<std::string>& cart_names)
      : track_(&track), cart_names_(&cart_names) {}

  [[nodiscard]] std::string floor(int pace) const;
  [[nodiscard]] std::string cart(const control::CartView& view) const;
  [[nodiscard]] std::string job(const control::Job& job, std::string_view waits) const;
  [[nodiscard]] std::string alarm(const control::Alarm& alarm) const;
  /// "[...]"
  [[nodiscard]] std::string alarms(const std::vector<control::Alarm>& alarms) const;

 private:
  const floor::Track* track_;
  const std::vector<std::string>* cart_names_;
};

}  // namespace tagline::net
