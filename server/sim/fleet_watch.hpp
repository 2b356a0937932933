// What watches over a fast run: the referee sees whether bodies touch, the audit whether the core's
// books are true, and the gridlock watch whether anything still moves. Takes no part in it.
#pragma once

#include <cstdint>

#include "server/sim/closing_referee.hpp"
#include "server/sim/fleet_people.hpp"
#include "server/sim/fleet_scene.hpp"

namespace tagline::sim {

class FleetWatch {
 public:
  /// `people` must outlive this: a cart that waits for help is nobody's gridlock.
  FleetWatch(FleetScene scene, const FleetPeople& people);
  FleetWatch(const FleetWatch&) = delete;
  FleetWatch& operator=(const FleetWatch&) = delete;

  /// See ClosingReferee.
  void enter(CartIx cart) { referee_.enter(cart.value, scene_.agenda.now()); }
  void leave(CartIx cart) { referee_.leave(cart.value); }
  void stirred(CartIx cart) { referee_.stirred(cart.value, scene_.agenda.now()); }
  [[nodiscard]] double due() const { return referee_.due(); }
  /// Throws FleetBroken if two bodies touch.
  void look();
  /// Throws FleetBroken if the books are wrong.
  void audit();
  /// Counts a gridlock if nothing has moved for long, though there was something to do and nothing
  /// was `closed` lately.
  void watch_for_gridlock(bool jobs_open, bool closed);
  /// It has somewhere to go and has waited for so long, in s, with no fault of its own.
  [[nodiscard]] bool stuck(CartIx cart, double waited) const;

  [[nodiscard]] const ClosingReferee& referee() const { return referee_; }
  [[nodiscard]] std::uint64_t gridlocks() const { return gridlocks_; }
  [[nodiscard]] std::uint64_t held_conflicts() const { return held_conflicts_; }

 private:
  [[nodiscard]] SeenMotion seen(std::size_t body, double now) const;
  /// Something other than traffic keeps it.
  [[nodiscard]] bool excused(CartIx cart) const;

  FleetScene scene_;
  const FleetPeople& people_;
  ClosingReferee referee_;
  /// When something last moved, or had no reason to.
  double active_{0};
  std::uint64_t gridlocks_{0}, held_conflicts_{0};
};

}  // namespace tagline::sim
