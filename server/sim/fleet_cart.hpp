// One cart of a fast run: the conduct of protocol/cart/cart_logic.hpp in its essentials, with a
// body that moves exactly (cart_motion.hpp). It is woken only when something happens: a tag is
// passed, it comes to a stand, a turn, a handling or a blockage ends, a message arrives.
//
// Simpler than the real logic: it brakes so as to stand with its reader over the tag, without the
// last creep; it halts over a turning point before it drives on by the turn's offset; its odometer
// is true. All three are on the fast or on the neutral side.
#pragma once

#include <array>
#include <limits>
#include <optional>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/outcome.hpp"
#include "server/sim/cart_battery.hpp"
#include "server/sim/cart_blockage.hpp"
#include "server/sim/cart_habits.hpp"
#include "server/sim/cart_motion.hpp"
#include "server/sim/cart_trip.hpp"

namespace tagline::sim {

/// What a cart spends its time on.
enum class Spent { loaded, empty, waiting, handling, charging, resting };
inline constexpr std::size_t spent_kinds = 6;

class FleetCart {
 public:
  static constexpr double never = std::numeric_limits<double>::infinity();

  FleetCart(CartIx self, const TapeTable& tapes, PoseIx standing, CartNature nature, Random random);

  // ---- what happens to it; then look at due() and take out() --------------------------------
  void receive(double now, const control::Message& message);
  /// Something of its own that was due.
  void wake(double now);
  /// Its way is blocked until then.
  void block(double now, double until);
  /// Lifted and set with its reader over the point of this pose.
  void set_on(double now, PoseIx standing);
  /// Pushed back by hand to the unread tag that it stands beyond, so that it reads it.
  void push_back(double now);
  /// Somebody puts a fresh battery in.
  void change_battery(double now);
  /// The load that is on is taken off by hand.
  void take_load_off(double now);
  /// It reports in any case, for the sign of life.
  void report(double now);
  /// Adds up what it did until now.
  void account(double now);

  /// When it must be woken next.
  [[nodiscard]] double due() const { return due_; }
  /// Messages to the service since last taken, in order.
  std::vector<control::Event>& out() { return out_; }
  [[nodiscard]] control::CartGreets greeting(double now) const;
  /// Since last asked, its body may have set off from a stand, or was moved by hand.
  bool stirred() { return motion_.take_stirred(); }

  // ---- truth ---------------------------------------------------------------------------------
  [[nodiscard]] bool still() const { return motion_.standing(); }
  [[nodiscard]] bool turning() const { return motion_.turning(); }
  [[nodiscard]] bool handling() const { return handling_until_ < never; }
  [[nodiscard]] bool backing() const { return trip_.gear() == floor::Gear::back; }
  [[nodiscard]] double reader(double now) const { return motion_.reader(now); }
  [[nodiscard]] Rectangle body(double now) const { return motion_.body(now); }
  [[nodiscard]] const TapeWalk& walk() const { return motion_.walk(); }
  [[nodiscard]] double top_speed() const { return motion_.top_speed(); }
  /// Speed of the corners while it turns, mm/s.
  [[nodiscard]] double swing_speed() const { return motion_.swing_speed(); }
  /// Off the tape, about a turn on the spot.
  [[nodiscard]] bool off_tape() const { return turn_run_ || turning(); }

  [[nodiscard]] bool loaded() const { return loaded_; }
  [[nodiscard]] control::Fault fault() const;
  [[nodiscard]] bool blocked(double now) const { return blockage_.lasts(now); }
  [[nodiscard]] bool stopped() const { return stopped_; }
  /// It stands where its trip goes on, and nothing at the cart keeps it.
  [[nodiscard]] bool waits() const;
  /// What it spends its time on now.
  [[nodiscard]] Spent spending() const;
  [[nodiscard]] double driven_mm() const { return driven_mm_; }
  [[nodiscard]] double spent(Spent kind) const { return spent_[static_cast<std::size_t>(kind)]; }
  [[nodiscard]] double battery() const { return battery_.percent(); }
  /// Of several stations at one point, the one meant; set by the run before it may be needed.
  void handle_at(std::optional<StationIx> station) { station_ = station; }

 private:
  void forget();
  /// Works out what to do next and starts it.
  void decide(double now);
  void drive(double now, double speed);
  /// On beyond a tag that it did not see, where something was to be done.
  void creep_on(double now, double speed);
  /// Straight on from the point, off the tape, to where it can turn.
  void drive_to_turn(double now, double speed);
  bool start_act(double now);
  void brake(double now);
  void halt(double now);
  void start_turning(double now);
  void end_turning();
  void start_handling(double now);
  void end_handling();
  void pass_point();
  void read(PointIx point);
  [[nodiscard]] std::optional<double> next_point() const;
  void next_due(double now);
  void tell_state(double now, bool anyway);

  [[nodiscard]] bool must_stand(double now) const;
  [[nodiscard]] bool at_charger() const;
  /// What handling usually takes at a point, s.
  [[nodiscard]] double usual_handling_s(PointIx point, control::Handling what) const;

  CartIx self_;
  const floor::Ways* ways_;
  const floor::Floor* floor_;
  CartHabits habits_;
  CartMotion motion_;
  CartTrip trip_;
  CartBattery battery_;
  CartBlockage blockage_;

  // ---- conduct
  /// Where the present drive ends and it must read the tag; 0 = nowhere (braking, creeping on).
  control::Step goal_{0};
  control::Handling handling_{control::Handling::load};
  double handling_until_{never};
  std::optional<PointIx> last_tag_;
  bool stopped_{false}, overrun_{false}, wrong_tag_{false}, tape_lost_{false}, loaded_{false};
  /// Creeping on over an unread tag, as far as creep_to_.
  bool creeping_{false};
  double creep_to_{0};
  /// On its way off the tape, to turn.
  bool turn_run_{false};
  std::optional<StationIx> station_;

  // ---- to tell, and counts
  std::vector<control::Event> out_;
  control::CartReports told_state_;
  double due_{never};
  double accounted_{0};
  double driven_mm_{0};
  std::array<double, spent_kinds> spent_{};
  std::vector<Stretch> stretches_;  // scratch of drive()
};

}  // namespace tagline::sim
