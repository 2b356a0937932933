// Look-up tables between ids and indices.
#include "server/store/names.hpp"

#include "server/store/store.hpp"

namespace tagline::store {
namespace {

template <class Ix>
std::optional<Ix> find_in(const std::unordered_map<std::string, Ix>& table,
                          const std::string& name) {
  const auto found = table.find(name);
  if (found == table.end()) return std::nullopt;
  return found->second;
}

}  // namespace

Names::Names(const floor::Ways& ways, std::vector<std::string> carts)
    : ways_(&ways), carts_(std::move(carts)) {
  for (std::uint32_t ix = 0; ix < carts_.size(); ++ix) {
    if (!cart_by_name_.emplace(carts_[ix], CartIx{ix}).second) {
      throw StoreError("Cart \"" + carts_[ix] +
                       "\" is twice in the fleet list. Give every cart its own id.");
    }
  }
  const auto& stations = floor().stations;
  for (std::uint32_t ix = 0; ix < stations.size(); ++ix) {
    station_by_id_.emplace(stations[ix].id, StationIx{ix});
  }
}

std::optional<CartIx> Names::cart(const std::string& name) const {
  return find_in(cart_by_name_, name);
}

std::optional<StationIx> Names::station(const std::string& id) const {
  return find_in(station_by_id_, id);
}

}  // namespace tagline::store
