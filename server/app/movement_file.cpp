// See movement_file.hpp.
#include "server/app/movement_file.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "server/sim/fleet_run.hpp"

namespace tagline::app {
namespace {

using Json = nlohmann::ordered_json;

Json row_of(const sim::Sighting& seen) {
  return {std::lround(seen.at_s * 1000), std::lround(seen.centre.x),   std::lround(seen.centre.y),
          std::lround(seen.nose),        static_cast<int>(seen.doing), seen.loaded ? 1 : 0};
}

}  // namespace

std::string movement_json(const sim::Movement& movement) {
  Json carts = Json::array();
  const auto names = sim::run_cart_names(movement.carts.size());
  for (std::size_t i = 0; i < names.size(); ++i) {
    Json rows = Json::array();
    for (const sim::Sighting& seen : movement.carts[i]) rows.push_back(row_of(seen));
    carts.push_back({{"cart", names[i]}, {"sightings", std::move(rows)}});
  }
  // In the order of sim::Spent.
  const Json file{{"format", "tagline-movement/1"},
                  {"until_s", movement.until_s},
                  {"doing", {"loaded", "empty", "waiting", "handling", "charging", "resting"}},
                  {"carts", std::move(carts)}};
  return file.dump();
}

}  // namespace tagline::app
