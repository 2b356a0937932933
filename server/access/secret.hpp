// Secrets that a browser or program carries: made of random bytes that are passed in, and kept only
// as their SHA-256, so that who reads the database can't use them. No slow hash is needed: nobody
// guesses 256 random bits.
#pragma once

#include <array>
#include <compare>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace tagline::access {

/// A SHA-256 (FIPS 180-4).
struct Digest {
  std::array<std::uint8_t, 32> bytes{};
  auto operator<=>(const Digest&) const = default;
};

/// From the system's source of randomness.
using RandomBytes = std::array<std::uint8_t, 32>;

Digest sha256(std::string_view text);
/// HMAC-SHA-256 (RFC 2104).
Digest sealed(std::string_view key, std::string_view text);

/// RFC 4648, 5 (URL and filename safe), without padding.
std::string base64url(std::span<const std::uint8_t> bytes);
/// The same in lower-case hex.
std::string hex(std::span<const std::uint8_t> bytes);

/// 64 hex digits, small or capital; nothing for any other text.
std::optional<Digest> digest_from_hex(std::string_view text);

/// Whether two texts are the same, in a time that doesn't say where they differ.
bool same(std::string_view a, std::string_view b);
bool same(const Digest& a, const Digest& b);

/// The value of a session's cookie, 43 characters.
std::string session_secret(const RandomBytes& random);
/// What must come along with every change that is asked with that cookie. Worked out from it, so it
/// need not be kept; another site's page can't read the cookie and so can't know it.
std::string csrf_of(std::string_view session_secret);
/// "tagline_" and 43 characters: a scanner for leaked secrets, and a person, see what it is.
std::string token_secret(const RandomBytes& random);

/// What a cart greets with: 28 letters and digits in groups of four, 140 random bits, without those
/// that look alike, since a person may have to type it into the cart.
std::string cart_key(const RandomBytes& random);

/// One-time code for the console: 16 letters and digits in groups of four, 80 random bits, without
/// those that look alike.
std::string setup_code(const RandomBytes& random);
/// Whether it is the code, however it was typed: case, blanks and dashes don't count.
bool is_setup_code(std::string_view typed, std::string_view code);

/// What a browser keeps to show that `account` has signed in from it before (OWASP calls it a
/// device cookie): it says nothing to others and gives no access. `key` is the service's own.
std::string device_pass(std::string_view key, std::string_view account, const RandomBytes& random);
/// The part that tells this browser from others, if the pass is a real one for that account.
std::optional<std::string> device_of(std::string_view key, std::string_view account,
                                     std::string_view pass);

}  // namespace tagline::access
