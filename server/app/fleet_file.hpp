// The fleet file, format tagline-fleet/1: which carts may connect, with which key, and where they
// live. It holds keys, so it is kept apart from the floor file and shown to nobody.
//
//   {"format": "tagline-fleet/1",
//    "carts": [{"id": "cart-1", "key": "16 to 64 printable characters", "home": "B1"}]}
//
// `id`: 1 to 32 of A-Z a-z 0-9 - _, unique. `key`: no spaces; unique. `home`: id of a point with
// a tag, where the cart is set down; may be left out. At most 1000 carts; unknown keys are refused.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "server/floor/file.hpp"

namespace tagline::app {

struct FleetCart {
  std::string id;
  std::string key;
  std::optional<std::string> home;  // a point of the floor
};
using Fleet = std::vector<FleetCart>;

inline constexpr std::size_t most_carts = 1'000;

/// Either the whole fleet or every finding of one pass. Never shows a key.
std::variant<Fleet, std::vector<floor::FileFinding>> parse_fleet(std::string_view json_text,
                                                                 const floor::Floor& floor);

/// Reads and parses a file (at most 1 MiB).
std::variant<Fleet, std::vector<floor::FileFinding>> load_fleet(const std::filesystem::path& path,
                                                                const floor::Floor& floor);

}  // namespace tagline::app
