// The fleet file, format tagline-fleet/1: which carts may connect, with which key, and where they
// live. It may hold keys, so it is kept apart from the floor file and shown to nobody.
//
//   {"format": "tagline-fleet/1",
//    "carts": [{"id": "cart-1", "key": "16 to 64 printable characters", "home": "B1"},
//              {"id": "cart-2", "key_sha256": "64 hex digits"}]}
//
// `id`: 1 to 32 of A-Z a-z 0-9 - _, unique. `key`: no spaces; unique. Or instead `key_sha256`, the
// SHA-256 of the key, from which nobody gets the key: so are those kept that the service gives out.
// `home`: id of a point with a tag, where the cart is set down; may be left out. At most 1000
// carts; unknown keys are refused.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "server/access/secret.hpp"
#include "server/floor/file.hpp"

namespace tagline::app {

struct FleetCart {
  std::string id;
  /// "" if only its digest is known.
  std::string key{};
  /// Of the key.
  access::Digest digest{};
  std::optional<std::string> home{};  // a point of the floor
  bool operator==(const FleetCart&) const = default;
};
using Fleet = std::vector<FleetCart>;

inline constexpr std::size_t most_carts = 1'000;

/// Either the whole fleet or every finding of one pass. Never shows a key.
std::variant<Fleet, std::vector<floor::FileFinding>> parse_fleet(std::string_view json_text,
                                                                 const floor::Floor& floor);

/// Reads and parses a file (at most 1 MiB).
std::variant<Fleet, std::vector<floor::FileFinding>> load_fleet(const std::filesystem::path& path,
                                                                const floor::Floor& floor);

/// A file that reads back as that fleet, a cart a line. Keys are written as they are known.
std::string format_fleet(const Fleet& fleet);

}  // namespace tagline::app
