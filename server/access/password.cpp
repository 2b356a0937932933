// Argon2id by libargon2, and the rules for passwords.
#include "server/access/password.hpp"

#include <argon2.h>

#include <algorithm>
#include <stdexcept>

#include "server/access/book.hpp"

namespace tagline::access {
namespace {

constexpr std::size_t hash_bytes = 32;

std::size_t characters(std::string_view utf8) {
  return static_cast<std::size_t>(std::count_if(utf8.begin(), utf8.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  }));
}

}  // namespace

std::optional<std::string> fault_of_password(std::string_view password, std::string_view account) {
  const std::size_t length = characters(password);
  if (length < shortest_password)
    return "It must have at least " + std::to_string(shortest_password) +
           " characters; a few words that don't belong together are easy to keep in mind.";
  if (length > longest_password)
    return "It must have at most " + std::to_string(longest_password) + " characters.";
  if (key_of(password) == key_of(account)) return "It must not be the account's name.";
  if (std::all_of(password.begin(), password.end(), [&](char c) { return c == password.front(); }))
    return "It must not be one character again and again.";
  return std::nullopt;
}

std::string hash_password(std::string_view password, const Salt& salt, HashCost cost) {
  std::string encoded(argon2_encodedlen(cost.passes, cost.memory_kib, cost.lanes,
                                        static_cast<std::uint32_t>(salt.size()),
                                        static_cast<std::uint32_t>(hash_bytes), Argon2_id),
                      '\0');
  const int result = argon2id_hash_encoded(cost.passes, cost.memory_kib, cost.lanes,
                                           password.data(), password.size(), salt.data(),
                                           salt.size(), hash_bytes, encoded.data(), encoded.size());
  if (result != ARGON2_OK)
    throw std::runtime_error(std::string("a password can't be hashed: ") +
                             argon2_error_message(result));
  encoded.resize(encoded.find('\0'));
  return encoded;
}

bool is_password(std::string_view password, const std::string& encoded) {
  const int result = argon2id_verify(encoded.c_str(), password.data(), password.size());
  if (result == ARGON2_MEMORY_ALLOCATION_ERROR || result == ARGON2_THREAD_FAIL)
    throw std::runtime_error(std::string("a password can't be looked at: ") +
                             argon2_error_message(result));
  return result == ARGON2_OK;
}

std::string hash_of_nobody(HashCost cost) {
  // Salt and hash of zeros: to find its password is to invert Argon2id.
  return "$argon2id$v=19$m=" + std::to_string(cost.memory_kib) +
         ",t=" + std::to_string(cost.passes) + ",p=" + std::to_string(cost.lanes) + "$" +
         std::string(22, 'A') + "$" + std::string(43, 'A');
}

}  // namespace tagline::access
