// A check sum behind bytes that are kept, so that damage is told from what was written.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "server/replay/bytes.hpp"

namespace tagline::replay {

inline void put_word(std::string& bytes, std::uint64_t value, int length) {
  for (int k = 0; k < length; ++k) bytes.push_back(static_cast<char>(value >> (8 * k)));
}
inline std::uint64_t get_word(In& in, int length) {
  std::uint64_t value = 0;
  for (int k = 0; k < length; ++k) value |= static_cast<std::uint64_t>(in.byte()) << (8 * k);
  return value;
}

inline std::uint64_t check_sum(std::string_view bytes) {
  Hash hash;
  hash.text(bytes);
  return hash.value();
}

inline constexpr int seal_length = 8;

inline std::string sealed(std::string bytes) {
  put_word(bytes, check_sum(bytes), seal_length);
  return bytes;
}

/// The bytes before the seal. Throws BadBytes if they are not those it was made for.
inline std::string_view unsealed(std::string_view bytes) {
  if (bytes.size() < seal_length) throw BadBytes("it ends too early");
  const std::string_view inner = bytes.substr(0, bytes.size() - seal_length);
  In seal(bytes.substr(inner.size()), {});
  if (get_word(seal, seal_length) != check_sum(inner)) throw BadBytes("it is damaged");
  return inner;
}

}  // namespace tagline::replay
