// UID bytes <-> hex.
#include "protocol/cart/tag.hpp"

#include <string.h>

namespace tagline {
namespace cart {

namespace {

int8_t hex_value(char c) {
  if (c >= '0' && c <= '9') return static_cast<int8_t>(c - '0');
  if (c >= 'A' && c <= 'F') return static_cast<int8_t>(c - 'A' + 10);
  if (c >= 'a' && c <= 'f') return static_cast<int8_t>(c - 'a' + 10);
  return -1;
}

char hex_digit(uint8_t value) {
  return static_cast<char>(value < 10 ? '0' + value : 'A' + (value - 10));
}

}  // namespace

bool same_tag(const Tag& a, const Tag& b) {
  return a.size == b.size && memcmp(a.bytes, b.bytes, a.size) == 0;
}

bool tag_from_hex(const char* text, Tag& out) {
  out = no_tag();
  Tag read = no_tag();
  while (text[0] != '\0') {
    const int8_t high = hex_value(text[0]);
    if (high < 0) return false;
    const int8_t low = hex_value(text[1]);
    if (low < 0 || read.size == sizeof(read.bytes)) return false;
    read.bytes[read.size++] = static_cast<uint8_t>(high * 16 + low);
    text += 2;
  }
  out = read;
  return true;
}

void tag_to_hex(const Tag& tag, char (&out)[tag_text_size]) {
  uint8_t at = 0;
  for (uint8_t i = 0; i < tag.size; ++i) {
    out[at++] = hex_digit(static_cast<uint8_t>(tag.bytes[i] >> 4));
    out[at++] = hex_digit(static_cast<uint8_t>(tag.bytes[i] & 15));
  }
  out[at] = '\0';
}

}  // namespace cart
}  // namespace tagline
