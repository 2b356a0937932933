// What can happen to the core and the carts round it while it is explored, and what is to be
// explored.
#pragma once

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "server/floor/ids.hpp"

namespace tagline::test {

/// What can happen. The carts' own progress first, then what ends a disturbance, then disturbances.
enum class Act {
  drive,          // the cart reads the next tag of its authority
  handle,         // it has been loaded or unloaded
  long_while,     // 20 s pass without anything
  ask,            // a person asks for the next job
  unblock,        // it drives on
  release_here,   // a person releases it at the cart
  release_there,  // a supervisor does
  greet,          // its link is back
  release_all,
  block,       // it stands still where it is (and says so)
  stop_here,   // a person presses its stop
  stop_there,  // a supervisor stops it
  drop,        // its link is lost; it goes on with the authority it has
  stop_all,
  restart,  // the service is killed and starts again from its records; all links are lost
};
constexpr bool is_progress(Act act) { return act == Act::drive || act == Act::handle; }
constexpr bool disturbs(Act act) { return act >= Act::block; }

constexpr const char* name_of(Act act) {
  constexpr const char* names[] = {"drive",       "handle",       "long_while",    "ask",
                                   "unblock",     "release_here", "release_there", "greet",
                                   "release_all", "block",        "stop_here",     "stop_there",
                                   "drop",        "stop_all",     "restart"};
  return names[static_cast<std::size_t>(act)];
}

struct Happening {
  Act act{};
  CartIx cart{};
};

/// Faults planted in the carts and the wire between them and the core.
enum class Sabotage {
  nothing,
  read_early,        // a cart says it has passed the next tag when it sets off for it
  stop_unheard,      // a stop pressed at a cart never gets to the core
  forgets_authority  // a cart's greeting says that it has none left, but it drives on with it
};

struct WorldPlan {
  std::size_t carts{2};
  /// From and to, by station id. The first `asked` are there from the start.
  std::vector<std::pair<std::string, std::string>> jobs;
  std::size_t asked{100};
  /// How many disturbances may be in force at once, and whether restarts are among them.
  std::size_t disturbances{0};
  bool restarts{false};
  Sabotage sabotage{Sabotage::nothing};
};

}  // namespace tagline::test
