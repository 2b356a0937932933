// Strict reading of one JSON text (RFC 8259) before anybody looks at its meaning.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <variant>

#include "protocol/codec.hpp"

namespace tagline::protocol {

/// One more step of a JSON pointer, escaped (RFC 6901, 3).
std::string pointer_to(const std::string& parent, std::string_view key);

/// The value, or why it is refused: over max_frame_bytes, no JSON, invalid UTF-8, nested deeper
/// than 4, a number too big to hold, or a key twice in one object (RFC 8259, 4, leaves its meaning
/// open, so two readers might obey different values). Never throws for bad input.
std::variant<nlohmann::json, DecodeError> parse_strict(std::string_view text);

}  // namespace tagline::protocol
