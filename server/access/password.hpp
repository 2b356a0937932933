// Passwords: what one must be, and Argon2id (RFC 9106) by its authors' reference library. Hashing
// takes tens of ms and much memory on purpose: never on a thread that carts or boards wait for.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace tagline::access {

/// What one hash costs.
struct HashCost {
  std::uint32_t memory_kib{};
  std::uint32_t passes{};
  std::uint32_t lanes{};
};

/// OWASP's password storage cheat sheet (from memory): at least 19 MiB, 2 passes, 1 lane. One lane,
/// because there is one thread for it.
inline constexpr HashCost usual_cost{19 * 1024, 2, 1};

/// RFC 9106, 3.1: 16 bytes are recommended for passwords.
using Salt = std::array<std::uint8_t, 16>;

/// NIST SP 800-63B (from memory): length is what counts, no rules of composition; long ones must be
/// taken. 12 rather than its least, 8, because a works has no list of stolen passwords to compare
/// with.
inline constexpr std::size_t shortest_password = 12, longest_password = 128;

/// What is wrong with a password for that account, as a sentence; nothing if it will do. Lengths
/// are characters (code points) of well-formed UTF-8.
std::optional<std::string> fault_of_password(std::string_view password, std::string_view account);

/// "$argon2id$v=19$m=...,t=...,p=...$salt$hash" (the PHC string format). Throws std::runtime_error
/// if the library can't, for lack of memory.
std::string hash_password(std::string_view password, const Salt& salt, HashCost cost);

/// Whether `encoded` is the hash of that password. False for what is no such text. Throws
/// std::runtime_error for lack of memory: that says nothing about the password.
bool is_password(std::string_view password, const std::string& encoded);

/// A hash that no password has, of the same cost: looked at when there is no such account, so that
/// the time an answer takes doesn't say which accounts there are.
std::string hash_of_nobody(HashCost cost);

}  // namespace tagline::access
