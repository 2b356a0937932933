// Text helpers of the codec, see codec_text.hpp; and the close reason, which is all text.
#include "protocol/codec_text.hpp"

#include "protocol/codec.hpp"

namespace tagline::protocol {
namespace {

unsigned byte_at(std::string_view text, std::size_t at) {
  return at < text.size() ? static_cast<unsigned char>(text[at]) : 0u;
}

bool follows(std::string_view text, std::size_t at) { return (byte_at(text, at) & 0xC0u) == 0x80u; }

/// Bytes of the well-formed character at `at` (RFC 3629, 4); 0 if there is none.
std::size_t character_at(std::string_view text, std::size_t at) {
  const unsigned first = byte_at(text, at);
  const unsigned second = byte_at(text, at + 1);
  if (first < 0x80u) return 1;
  if (first < 0xC2u || first > 0xF4u || !follows(text, at + 1)) return 0;
  if (first < 0xE0u) return 2;
  if (!follows(text, at + 2)) return 0;
  if (first < 0xF0u) {
    if (first == 0xE0u && second < 0xA0u) return 0;  // overlong
    if (first == 0xEDu && second > 0x9Fu) return 0;  // surrogate
    return 3;
  }
  if (!follows(text, at + 3)) return 0;
  if (first == 0xF0u && second < 0x90u) return 0;  // overlong
  if (first == 0xF4u && second > 0x8Fu) return 0;  // beyond U+10FFFF
  return 4;
}

std::string without_controls(std::string text) {
  for (char& c : text) {
    if (static_cast<unsigned char>(c) < 0x20u || c == 0x7F) c = ' ';
  }
  return text;
}

}  // namespace

std::string cut_utf8(std::string_view text, std::size_t limit) {
  std::string kept;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t size = character_at(text, at);
    const std::size_t taken = size == 0 ? 1 : size;
    if (kept.size() + taken > limit) break;
    if (size == 0) {
      kept += '?';
    } else {
      kept.append(text.substr(at, size));
    }
    at += taken;
  }
  return kept;
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t shown = 40;
  const std::string start = without_controls(cut_utf8(text, shown));
  return '"' + start + (text.size() > shown ? "...\"" : "\"");
}

std::string close_reason(const DecodeError& error) {
  constexpr std::size_t limit = 123;
  std::string whole = error.pointer.empty() ? error.wrong : error.pointer + ": " + error.wrong;
  if (!error.right.empty()) whole += "; " + error.right;
  return without_controls(cut_utf8(whole, limit));
}

}  // namespace tagline::protocol
