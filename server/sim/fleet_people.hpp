// The people in a fast run: they come to a cart that is in trouble and put it right, take delivered
// loads away, and set carts down. All they do to the service goes through its own requests.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "server/sim/fleet_scene.hpp"

namespace tagline::sim {

/// What people can make happen in the run.
struct FleetHands {
  /// Asks the service; true if it accepts.
  std::function<bool(const control::Event& request)> ask;
  /// The cart has been touched and may have something to say.
  std::function<void(CartIx cart)> touched;
  /// The cart has been lifted off the floor; has been set down on it.
  std::function<void(CartIx cart)> lifted, set_down;
  /// Whatever a visit has made room for may be used.
  std::function<void()> done;
};

class FleetPeople {
 public:
  FleetPeople(FleetScene scene, FleetHands hands);

  /// Somebody is needed at this cart, and comes after a while. Called once, they are on their way.
  void call(CartIx cart);
  [[nodiscard]] bool called(CartIx cart) const { return care_[cart.value].called; }
  /// Somebody is at the cart.
  void visit(CartIx cart);
  /// Somebody takes one load away from a station and says how many are left.
  void take_load(StationIx station);
  /// Asks the core to take the cart at that pose and, if it does, sets the body there.
  bool place(CartIx cart, PoseIx pose);

  /// How often a cart was put right.
  [[nodiscard]] std::uint64_t helped() const { return helped_; }

 private:
  struct Care {
    bool called{false};
    int in_vain{0};
  };

  /// Sets the cart on the tag it passed last, or on the next one, and says so; after many visits in
  /// vain carries it to a siding, or off the floor until one is free.
  bool put_right(CartIx cart);

  FleetScene scene_;
  FleetHands hands_;
  std::vector<Care> care_;
  std::uint64_t helped_{0};
};

}  // namespace tagline::sim
