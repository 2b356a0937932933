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

const std::string& Names::of(const control::Facility& what) const {
  if (const auto* segment = std::get_if<SegmentIx>(&what)) return floor()[*segment].id;
  if (const auto* station = std::get_if<StationIx>(&what)) return of(*station);
  return of(std::get<CartIx>(what));
}

std::string_view Names::kind_of(const control::Facility& what) {
  if (std::holds_alternative<SegmentIx>(what)) return "segment";
  return std::holds_alternative<StationIx>(what) ? "station" : "cart";
}

std::optional<control::Facility> Names::facility(std::string_view kind,
                                                 const std::string& id) const {
  const auto found = [](auto ix) {
    return ix ? std::optional<control::Facility>{*ix} : std::nullopt;
  };
  if (kind == "segment") return found(floor().find_segment(id));
  if (kind == "station") return found(station(id));
  return found(cart(id));
}

}  // namespace tagline::store
