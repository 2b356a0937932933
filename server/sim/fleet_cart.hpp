// One cart of a fast run: its body on the tape, moving exactly, and the conduct of
// protocol/cart/cart_logic.hpp in its essentials. It is woken only when something happens: a tag is
// passed, it comes to a stand, a turn, a handling or a blockage ends, a message arrives.
//
// Simpler than the real logic: it brakes so as to stand with its reader over the tag, without the
// last creep; it halts over a turning point before it drives on by the turn's offset; its odometer
// is true. All three are on the fast or on the neutral side.
#pragma once

#include <array>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/outcome.hpp"
#include "server/sim/drive_profile.hpp"
#include "server/sim/random.hpp"
#include "server/sim/tape_walk.hpp"

namespace tagline::sim {

/// What carts differ by, and what goes wrong with reads.
struct CartNature {
  /// Its speed is a factor of its own in [1 - noise, 1], and on each leg another one; handling
  /// takes the station's time times [1 - noise, 1 + noise].
  double noise{0};
  /// Share of passed tags that are not read.
  double miss_rate{0};
  /// Batteries run down (only where there is a charger).
  bool battery{true};
};

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
  bool stirred() { return std::exchange(stirred_, false); }

  // ---- truth ---------------------------------------------------------------------------------
  [[nodiscard]] bool still() const {
    return doing_ == Doing::standing || doing_ == Doing::handling;
  }
  [[nodiscard]] bool turning() const { return doing_ == Doing::turning; }
  [[nodiscard]] bool handling() const { return doing_ == Doing::handling; }
  [[nodiscard]] bool backing() const { return gear_ == floor::Gear::back; }
  [[nodiscard]] double reader(double now) const;
  [[nodiscard]] Rectangle body(double now) const;
  [[nodiscard]] const TapeWalk& walk() const { return walk_; }
  [[nodiscard]] double top_speed() const { return top_speed_; }
  /// Speed of the corners while it turns, mm/s.
  [[nodiscard]] double swing_speed() const;
  /// Off the tape, about a turn on the spot.
  [[nodiscard]] bool off_tape() const { return turn_run_ || turning(); }

  [[nodiscard]] bool loaded() const { return loaded_; }
  [[nodiscard]] control::Fault fault() const;
  [[nodiscard]] bool blocked(double now) const { return now < blocked_until_; }
  [[nodiscard]] bool stopped() const { return stopped_; }
  /// It stands where its trip goes on, and nothing at the cart keeps it.
  [[nodiscard]] bool waits() const;
  /// Since when it has stood.
  [[nodiscard]] double stood_since() const { return stood_since_; }
  [[nodiscard]] double driven_mm() const { return driven_mm_; }
  [[nodiscard]] double spent(Spent kind) const { return spent_[static_cast<std::size_t>(kind)]; }
  [[nodiscard]] double battery() const { return battery_; }
  /// Of several stations at one point, the one meant; set by the run before it may be needed.
  void handle_at(std::optional<StationIx> station) { station_ = station; }

 private:
  enum class Doing { standing, driving, turning, handling };
  using Step = control::Step;

  void take(double now, const control::TellAuthority& told);
  void forget();
  /// Works out what to do next and starts it.
  void decide(double now);
  void drive(double now, double speed);
  bool start_act(double now);
  /// Lays the legs to `last` and how fast they may be driven into stretches_. False: no tape there.
  bool lay_ahead(double now, Step last);
  /// Sets off, or goes on, over stretches_.
  void go(double now, double speed);
  void brake(double now);
  void halt(double now);
  void start_turning(double now);
  void end_turning(double now);
  void start_handling(double now);
  void end_handling(double now);
  void pass_point(double now);
  bool try_read(int tries);
  void read(PointIx point);
  [[nodiscard]] std::optional<double> next_point() const;
  void next_due(double now);
  void tell_state(double now, bool anyway);

  [[nodiscard]] bool must_stand(double now) const;
  [[nodiscard]] const control::ToldPoint* slot(Step step) const;
  [[nodiscard]] bool halts_at(Step step) const;
  [[nodiscard]] bool done_at(Step step, control::ToldAct act) const;
  [[nodiscard]] const floor::Move* choose(PoseIx from, floor::Branch branch, bool turn) const;
  [[nodiscard]] double turn_offset() const;
  [[nodiscard]] double leg_factor();
  [[nodiscard]] Spent spending() const;
  [[nodiscard]] bool at_charger() const;
  [[nodiscard]] DriveLimits limits() const;

  CartIx self_;
  const TapeTable* tapes_;
  const floor::Floor* floor_;
  CartNature nature_;
  Random random_;
  TapeWalk walk_;
  double factor_{1};
  double top_speed_;

  // ---- body
  Doing doing_{Doing::standing};
  DriveProfile profile_;
  double from_x_{0};  // reader where the profile began
  double direction_{1};
  floor::Gear gear_{floor::Gear::forward};
  Rectangle turn_from_, turn_to_;
  const floor::Move* turn_move_{nullptr};
  double turn_began_{0};
  double busy_until_{never};  // end of turn or handling

  // ---- conduct
  std::vector<control::ToldPoint> told_;
  Step passed_{0}, driven_{0};
  /// Where the present drive ends and it must read the tag; 0 = nowhere (braking, creeping on).
  Step goal_{0};
  Step handled_step_{0}, turned_step_{0};
  control::Handling handling_{control::Handling::load}, handled_{control::Handling::load};
  std::optional<PointIx> last_tag_;
  bool stopped_{false}, overrun_{false}, wrong_tag_{false}, tape_lost_{false}, loaded_{false};
  /// Creeping on over an unread tag, as far as creep_to_.
  bool creeping_{false};
  double creep_to_{0};
  /// Driving straight on from the point, off the tape, to turn.
  bool turn_run_{false};
  double blocked_from_{-1e18}, blocked_until_{-1e18};
  std::optional<StationIx> station_;

  // ---- to tell, and counts
  std::vector<control::Event> out_;
  control::CartReports told_state_;
  double due_{never};
  bool stirred_{true};
  double stood_since_{0};
  double accounted_{0};
  double accounted_distance_{0};
  double driven_mm_{0};
  double battery_{100};
  std::array<double, spent_kinds> spent_{};
  std::vector<Stretch> stretches_;
};

}  // namespace tagline::sim
