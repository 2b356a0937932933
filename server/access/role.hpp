// Who a person is at the works, each role including those before it. The words are those of the
// interface, the pages and the database.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <variant>

namespace tagline::access {

/// `operating` is the operator: that word itself is taken in C++.
enum class Role { viewer, operating, supervisor, builder };

inline constexpr std::array all_roles{Role::viewer, Role::operating, Role::supervisor,
                                      Role::builder};

constexpr std::string_view word(Role role) {
  switch (role) {
    case Role::viewer:
      return "viewer";
    case Role::operating:
      return "operator";
    case Role::supervisor:
      return "supervisor";
    case Role::builder:
      break;
  }
  return "builder";
}

constexpr std::optional<Role> role_from(std::string_view text) {
  for (const Role role : all_roles)
    if (word(role) == text) return role;
  return std::nullopt;
}

/// Whether `role` may do what `least` may.
constexpr bool reaches(Role role, Role least) { return role >= least; }

/// The one job that a call button may ask for: ids of stations.
struct Call {
  std::string from, to;
  bool operator==(const Call&) const = default;
};

/// What a token is good for: all that a role may, or one job.
using Scope = std::variant<Role, Call>;

}  // namespace tagline::access
