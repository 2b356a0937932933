// A tag's UID as bytes, and its upper-case hex form as used on the wire. C++14 for firmware.
#pragma once

#include <stdint.h>

namespace tagline {
namespace cart {

/// UID of 4, 5, 7, 8 or 10 bytes (ISO/IEC 14443-3, ISO/IEC 15693, 125 kHz cards). size 0 = none.
struct Tag {
  uint8_t size;
  uint8_t bytes[10];
};

/// Room for the hex form with its closing zero.
constexpr uint8_t tag_text_size = 21;

inline Tag no_tag() { return Tag{0, {0, 0, 0, 0, 0, 0, 0, 0, 0, 0}}; }

bool same_tag(const Tag& a, const Tag& b);

/// Reads up to 20 hex digits (even count, either case) closed by a zero; "" gives no_tag().
/// False, and `out` = no_tag(), if the text is no UID.
bool tag_from_hex(const char* text, Tag& out);

/// Upper-case hex, closed by a zero.
void tag_to_hex(const Tag& tag, char (&out)[tag_text_size]);

}  // namespace cart
}  // namespace tagline
