// Where and why a text is no JSON, in words that a person can act on and that read well aloud.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace tagline::floor {

struct SyntaxError {
  std::string wrong;
  std::string right;
};

/// What no JSON text may be or hold, whatever its grammar: nothing at all, NUL bytes, bytes that
/// are no UTF-8 (RFC 8259, 8.1; UTF-8 as in RFC 3629).
std::optional<SyntaxError> check_bytes(std::string_view text);

/// "line 3, column 12" of the last byte read when the parser had read `bytes_read`; columns count
/// characters, not bytes, from 1. Text is UTF-8.
std::string place_in(std::string_view text, std::size_t bytes_read);

/// The parser's own message (nlohmann::json, parse_error.101) as a sentence with line and column.
SyntaxError explain_syntax(std::string_view text, std::size_t bytes_read,
                           std::string_view parser_message);

}  // namespace tagline::floor
