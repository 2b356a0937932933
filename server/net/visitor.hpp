// Somebody who has been let in, as the routes see them.
#pragma once

#include <string>

#include "server/access/action.hpp"
#include "server/access/secret.hpp"

namespace tagline::net {

struct Visitor {
  enum class By { open_door, session, token };
  By by{By::session};
  /// Of the account; of a token "token:" and its name.
  std::string name;
  access::Scope scope{access::Role::viewer};
  /// Digest of what they carry; none through the open door.
  access::Digest key{};
  /// What must come along with their changes; only of a session.
  std::string csrf{};
  [[nodiscard]] bool is_person() const { return by != By::token; }
};

}  // namespace tagline::net
