// Plays advances of carts through on paper: every cart stands at a pose holding its cover, and
// steps on when the next cover is clear. Shared by the guard, which checks an order with it, and
// the planner, which searches for one; it decides nothing by itself.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::traffic {

class RunThrough {
 public:
  RunThrough(const floor::Track& track, std::size_t carts);

  /// Puts a cart on the floor at steps[position]. The steps must outlive this object. False if its
  /// cover isn't clear.
  bool put(CartIx cart, const std::vector<PoseIx>& steps, std::size_t position);
  /// One step on; false (and no change) if there is no further step or its cover isn't clear.
  bool advance(CartIx cart);
  [[nodiscard]] bool at_end(CartIx cart) const;
  [[nodiscard]] bool all_at_end() const;
  [[nodiscard]] bool on_floor(CartIx cart) const { return carts_[cart.value].steps != nullptr; }
  [[nodiscard]] std::size_t position(CartIx cart) const { return carts_[cart.value].position; }

 private:
  struct Cart {
    const std::vector<PoseIx>* steps{nullptr};
    std::size_t position{};
  };
  [[nodiscard]] bool clear(CartIx cart, PoseIx pose) const;

  const floor::Track* track_;
  std::vector<Cart> carts_;
  std::vector<std::uint32_t> owner_;  // piece -> cart + 1, 0 = nobody
};

}  // namespace tagline::traffic
