// Textual ids of one floor and fleet to indices and back.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "server/control/downtime.hpp"
#include "server/floor/ways.hpp"

namespace tagline::store {

/// Keeps a reference to the ways.
class Names {
 public:
  /// Throws StoreError if a cart name comes twice: two carts would share one memory.
  Names(const floor::Ways& ways, std::vector<std::string> carts);

  [[nodiscard]] const floor::Ways& ways() const { return *ways_; }
  [[nodiscard]] const floor::Floor& floor() const { return ways_->floor(); }
  [[nodiscard]] const std::vector<std::string>& carts() const { return carts_; }
  [[nodiscard]] const std::string& of(CartIx cart) const { return carts_.at(cart.value); }
  [[nodiscard]] const std::string& of(PointIx point) const { return floor()[point].id; }
  [[nodiscard]] const std::string& of(StationIx station) const { return floor()[station].id; }
  [[nodiscard]] const std::string& of(const control::Facility& what) const;
  /// "segment", "station", "cart"
  [[nodiscard]] static std::string_view kind_of(const control::Facility& what);
  /// What has this id; nothing if there is none (any more).
  [[nodiscard]] std::optional<control::Facility> facility(std::string_view kind,
                                                          const std::string& id) const;
  [[nodiscard]] std::optional<CartIx> cart(const std::string& name) const;
  [[nodiscard]] std::optional<StationIx> station(const std::string& id) const;

 private:
  const floor::Ways* ways_;
  std::vector<std::string> carts_;
  std::unordered_map<std::string, CartIx> cart_by_name_;
  std::unordered_map<std::string, StationIx> station_by_id_;
};

}  // namespace tagline::store
