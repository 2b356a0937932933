// What can be done through the interface, and the least role for each: the one table of rights.
// What isn't in it can't be done.
#pragma once

#include <array>

#include "server/access/role.hpp"

namespace tagline::access {

enum class Action {
  look,             // everything the board shows
  use_own_account,  // sign out, read who one is, change one's own password
  ask_job,
  cancel_job,
  say_handled,  // that a cart is loaded or unloaded
  count_loads,
  see_alarm,  // says that one has seen it, by name
  stop,       // a cart, a zone, all
  place_cart,
  remove_cart,
  release,         // a cart, a zone, all: something moves again
  change_service,  // out of service, and back
  read_audit,
  manage_accounts,
  manage_tokens,
  manage_fleet,   // which carts may connect, and their keys
  draw_floor,     // read floor files, check them, try them out, keep a draft
  publish_floor,  // the draft becomes the floor
  call,           // the one job of a call button
};

struct Right {
  Action action{};
  Role least{Role::builder};
  /// Not with a token: one that has got into wrong hands must not make others.
  bool persons_only{false};
  /// Only with a token made for it.
  bool call_only{false};
};

/// Seeing an alarm is for everybody who works there too: it moves nothing and ends nothing, and
/// whoever stands beside the cart knows first that somebody sees to it.
/// Stopping is for everybody who works there: it is never wrong. What lets something move again, or
/// says where a cart stands, is for who has looked at the floor and answers for it.
inline constexpr std::array rights{
    Right{Action::look, Role::viewer, false, false},
    Right{Action::use_own_account, Role::viewer, false, false},
    Right{Action::ask_job, Role::operating, false, false},
    Right{Action::cancel_job, Role::operating, false, false},
    Right{Action::say_handled, Role::operating, false, false},
    Right{Action::count_loads, Role::operating, false, false},
    Right{Action::see_alarm, Role::operating, false, false},
    Right{Action::stop, Role::operating, false, false},
    Right{Action::place_cart, Role::supervisor, false, false},
    Right{Action::remove_cart, Role::supervisor, false, false},
    Right{Action::release, Role::supervisor, false, false},
    Right{Action::change_service, Role::supervisor, false, false},
    Right{Action::read_audit, Role::supervisor, false, false},
    Right{Action::manage_accounts, Role::builder, true, false},
    Right{Action::manage_tokens, Role::builder, true, false},
    Right{Action::manage_fleet, Role::builder, true, false},
    Right{Action::draw_floor, Role::builder, false, false},
    Right{Action::publish_floor, Role::builder, true, false},
    Right{Action::call, Role::viewer, false, true},
};

constexpr const Right& right_to(Action action) { return rights[static_cast<std::size_t>(action)]; }
static_assert([] {
  for (std::size_t k = 0; k < rights.size(); ++k)
    if (rights[k].action != static_cast<Action>(k)) return false;
  return rights.back().action == Action::call;
}());

/// Why somebody may not.
enum class Refused { nothing, role_too_low, persons_only, call_only, only_calls };

/// What somebody with this scope may do; `person`: signed in, not with a token.
constexpr Refused refuse(const Scope& scope, bool person, Action action) {
  const Right& right = right_to(action);
  const Role* role = std::get_if<Role>(&scope);
  if (right.call_only) return role ? Refused::call_only : Refused::nothing;
  if (!role) return Refused::only_calls;
  if (!reaches(*role, right.least)) return Refused::role_too_low;
  if (right.persons_only && !person) return Refused::persons_only;
  return Refused::nothing;
}

}  // namespace tagline::access
