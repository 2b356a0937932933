// Exit codes that several subcommands share. 0 is success; 1 failed; 2 what was given can't be
// used.
#pragma once

namespace tagline::app {

/// A simulation broke a rule that must never be broken: contact of carts, or books that conflict.
inline constexpr int exit_broken = 3;

}  // namespace tagline::app
