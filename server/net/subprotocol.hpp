// Which version of a link is spoken on a connection (RFC 6455, 4.1 and 4.2.2).
#pragma once

#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tagline::net {

/// The first one offered that is spoken here: RFC 6455, 4.1, has the client name them in the order
/// of its preference. Names are compared as they are, capitals included. Nothing if none is.
inline std::optional<std::string> choose_subprotocol(const std::vector<std::string>& offered,
                                                     std::span<const std::string_view> spoken) {
  const auto found =
      std::find_first_of(offered.begin(), offered.end(), spoken.begin(), spoken.end());
  if (found == offered.end()) return std::nullopt;
  return *found;
}

}  // namespace tagline::net
