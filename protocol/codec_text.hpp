// Text helpers of the codec: cutting UTF-8 at a character, and quoting a value found.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace tagline::protocol {

/// The longest start of `text` that has at most `limit` bytes and ends at a UTF-8 character
/// (RFC 3629). Bytes that are no UTF-8 become '?'.
std::string cut_utf8(std::string_view text, std::size_t limit);

/// The text as one short line in double quotes: control characters become spaces.
std::string in_quotes(std::string_view text);

}  // namespace tagline::protocol
