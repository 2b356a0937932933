// What taking up another floor would change: the track itself, and the jobs, carts and loads that
// were on the old one. The same rules as store/reconcile.hpp, told beforehand.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "server/floor/floor.hpp"
#include "server/net/floor_office.hpp"

namespace tagline::app {

/// One thing of the floor that is `how`: "new", "gone" or "altered".
struct ThingChange {
  /// point, segment, station, charger, zone, conflict, demand, cart (its body) or name.
  std::string kind{};
  /// "" where the kind has only one.
  std::string id{};
  std::string how{};
  /// Of what is altered: the keys of the floor file.
  std::vector<std::string> keys{};
};

std::vector<ThingChange> compare_floors(const floor::Floor& before, const floor::Floor& after);

/// Where carts stand means something else afterwards: every one must be placed again by a person
/// and all are stopped (store/floor_text.hpp says what makes that so).
bool must_place_anew(const floor::Floor& before, const floor::Floor& after);

/// `things`, `places_anew`, `jobs`, `carts` and `loads` of the Changes of API.md, with a sentence
/// for each.
nlohmann::ordered_json changes_json(const floor::Floor& before, const floor::Floor& after,
                                    const net::WorksNow& works);

}  // namespace tagline::app
