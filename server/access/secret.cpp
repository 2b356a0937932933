// Digests by OpenSSL, and the texts made of random bytes.
#include "server/access/secret.hpp"

#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>

#include <stdexcept>

namespace tagline::access {
namespace {

/// Crockford's base 32: no I, L, O, U.
constexpr std::string_view code_letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
constexpr std::size_t setup_code_length = 16, cart_key_length = 28, group_length = 4;
/// Of a device pass: the part that tells browsers apart, and its seal.
constexpr std::size_t device_bytes = 16;

std::string only_code_letters(std::string_view typed) {
  std::string out;
  for (char c : typed) {
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (c == 'O') c = '0';
    if (c == 'I' || c == 'L') c = '1';
    if (c != ' ' && c != '-') out.push_back(c);
  }
  return out;
}

/// One byte a letter: of `random`, five bits of each count.
std::string in_groups(const RandomBytes& random, std::size_t letters) {
  std::string code;
  for (std::size_t k = 0; k < letters; ++k) {
    if (k > 0 && k % group_length == 0) code.push_back('-');
    code.push_back(code_letters[random.at(k) & 31u]);
  }
  return code;
}

std::optional<unsigned> hex_digit(char c) {
  if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
  if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + 10);
  if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A' + 10);
  return std::nullopt;
}

}  // namespace

Digest sha256(std::string_view text) {
  Digest digest;
  if (EVP_Digest(text.data(), text.size(), digest.bytes.data(), nullptr, EVP_sha256(), nullptr) !=
      1)
    throw std::runtime_error("SHA-256 is not to be had from OpenSSL");
  return digest;
}

Digest sealed(std::string_view key, std::string_view text) {
  Digest digest;
  if (HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()),
           reinterpret_cast<const unsigned char*>(text.data()), text.size(), digest.bytes.data(),
           nullptr) == nullptr)
    throw std::runtime_error("HMAC is not to be had from OpenSSL");
  return digest;
}

std::string base64url(std::span<const std::uint8_t> bytes) {
  static constexpr std::string_view letters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
  std::string out;
  std::uint32_t held = 0;
  int bits = 0;
  for (const std::uint8_t byte : bytes) {
    held = held << 8 | byte;
    for (bits += 8; bits >= 6; bits -= 6) out.push_back(letters[held >> (bits - 6) & 63u]);
  }
  if (bits > 0) out.push_back(letters[held << (6 - bits) & 63u]);
  return out;
}

std::string hex(std::span<const std::uint8_t> bytes) {
  static constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (const std::uint8_t byte : bytes) {
    out.push_back(digits[byte >> 4]);
    out.push_back(digits[byte & 15u]);
  }
  return out;
}

std::optional<Digest> digest_from_hex(std::string_view text) {
  Digest digest;
  if (text.size() != 2 * digest.bytes.size()) return std::nullopt;
  for (std::size_t k = 0; k < digest.bytes.size(); ++k) {
    const auto high = hex_digit(text[2 * k]), low = hex_digit(text[2 * k + 1]);
    if (!high || !low) return std::nullopt;
    digest.bytes[k] = static_cast<std::uint8_t>(*high << 4 | *low);
  }
  return digest;
}

bool same(std::string_view a, std::string_view b) {
  return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

bool same(const Digest& a, const Digest& b) {
  return CRYPTO_memcmp(a.bytes.data(), b.bytes.data(), a.bytes.size()) == 0;
}

std::string session_secret(const RandomBytes& random) { return base64url(random); }

std::string csrf_of(std::string_view session_secret) {
  return base64url(sealed(session_secret, "tagline csrf").bytes);
}

std::string token_secret(const RandomBytes& random) { return "tagline_" + base64url(random); }

std::string cart_key(const RandomBytes& random) { return in_groups(random, cart_key_length); }

std::string setup_code(const RandomBytes& random) { return in_groups(random, setup_code_length); }

bool is_setup_code(std::string_view typed, std::string_view code) {
  return same(only_code_letters(typed), only_code_letters(code));
}

std::string device_pass(std::string_view key, std::string_view account, const RandomBytes& random) {
  const std::string device = hex(std::span(random).first<device_bytes>());
  return device + "." + hex(sealed(key, device + "." + std::string(account)).bytes);
}

std::optional<std::string> device_of(std::string_view key, std::string_view account,
                                     std::string_view pass) {
  const std::string_view device = pass.substr(0, pass.find('.'));
  if (device.size() != 2 * device_bytes || pass.size() <= device.size()) return std::nullopt;
  const std::string right =
      hex(sealed(key, std::string(device) + "." + std::string(account)).bytes);
  if (!same(pass.substr(device.size() + 1), right)) return std::nullopt;
  return std::string(device);
}

}  // namespace tagline::access
