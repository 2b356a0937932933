// What people take out of service in a fast run, for a while and one thing at a time: a segment, a
// station or a cart. And the watch that no cart is let onto a segment while it is out of service.
#pragma once

#include <functional>
#include <optional>
#include <set>

#include "server/sim/fleet_mishaps.hpp"
#include "server/sim/fleet_scene.hpp"

namespace tagline::sim {

class FleetClosings {
 public:
  /// `ask`: asks the service; true if it accepts.
  FleetClosings(FleetScene scene, FleetMishaps& mishaps,
                std::function<bool(const control::Event& request)> ask);

  /// Sets down in the agenda when the first one comes.
  void begin();
  /// It is time to take something out of service, or to bring it back.
  void change();
  /// The cart came to be where it is by a fault or by hand, not by the service's leave.
  void excuse(CartIx cart) { excused_.insert(cart); }
  /// Throws FleetBroken if a cart was let onto the segment that is out of service.
  void audit() const;
  /// Something is out of service, or was until less than `seconds` ago: carts may stand for it.
  [[nodiscard]] bool lately(double seconds) const;

 private:
  FleetScene scene_;
  FleetMishaps& mishaps_;
  std::function<bool(const control::Event& request)> ask_;
  std::optional<control::Facility> closed_;
  /// Carts that may hold it: they did when it was closed.
  std::set<CartIx> excused_;
  double reopened_{-1e9};
};

}  // namespace tagline::sim
