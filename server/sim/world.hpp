// The physical truth of a floor with carts: where each body really is, how fast it is, which tags
// its reader sees, what its odometer counts. Advances in fixed steps and asks no clock; the same
// seed and the same commands give the same world. A referee watches the bodies at every step.
//
// Model (figures without a source are common practice, no source)
//   speed       follows the command at the floor's acceleration and deceleration, exactly: within
//               a step of constant acceleration the distance is v t + a t^2 / 2
//   tape        the cart follows the tape it is on; at a fork the branch commanded, else the
//               straightest; where the tape ends it goes straight on
//   reader      within `reader_window` before and behind a tag it tries to read it every 140 ms,
//   and
//               each try fails with probability `miss_rate`. At full speed there is one try; a cart
//               that creeps has several, as a real reader has (it needs some 30 to 100 ms). A tag
//               that was torn off or is dead is never read (spoil_tags)
//   odometer    true distance times a factor of its own for every cart, within +-0.5 %
//   speed       commanded times a factor of its own for every cart, 0.96 to 1
//   battery     full to empty in about 9 km or 100 h of standing; empty to full in 90 min while
//               standing within 150 mm of a charger's point; a flat cart does not move
//   handling    the station's usual time times 0.8 to 1.2; 5 s where there is no station
//   turning     half a turn in floor::turn_round_time, about the middle of the body
//   bumper      two bodies that touch both feel it
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "server/floor/ways.hpp"
#include "server/sim/random.hpp"
#include "server/sim/referee.hpp"
#include "server/sim/trail.hpp"

namespace tagline::sim {

/// One step of the world; the referee looks after each.
inline constexpr std::chrono::milliseconds step_time{20};

struct WorldOptions {
  std::uint64_t seed{1};
  /// Probability that one try to read a tag fails.
  double miss_rate{0};
  /// How often something gets in a cart's way for 5 to 60 s, per hour of the cart.
  double stalls_per_hour{0};
  /// Whether carts differ in speed and odometer; false: every factor is 1.
  bool vary_carts{true};
  double reader_window{25};
};

enum class Handling { none, load, unload };

/// Loads taken on and given off at one place.
struct Handlings {
  std::uint64_t loaded{0}, unloaded{0};
};

/// What a cart's controls ask of its hardware.
struct Command {
  /// Speed to reach, mm/s, >= 0.
  double speed{};
  floor::Gear gear{floor::Gear::forward};
  floor::Branch branch{floor::Branch::straight};
  bool straight_on{false};
  bool turn{false};
  Handling handling{Handling::none};
};

/// What a cart's hardware sensed in the last step.
struct Sensed {
  /// Counted distance, forward up and backward down, mm.
  std::int32_t odometer{};
  bool standing{true};
  bool obstacle{};
  bool tape{true};
  /// True for one step each.
  bool turned{}, handled{}, bumper{};
  /// Tags seen in this step, UIDs in upper-case hex.
  std::vector<std::string> tags;
  /// Percent.
  int battery{100};
};

/// Where a cart truly is.
struct Truth {
  bool on_floor{};
  Rectangle body;
  floor::Position reader;
  double speed{};
  /// Segment under the reader and distance along it in driving direction; none off the tape.
  std::optional<SegmentIx> segment;
  double along{};
  /// Distance driven so far, forward or backward, mm.
  double driven{};
};

class World {
 public:
  /// `ways` must outlive the world.
  World(const floor::Ways& ways, WorldOptions options);

  /// A cart standing over the tag of its pose's point. Carts are numbered in the order added.
  CartIx add_cart(std::string name, PoseIx standing);
  [[nodiscard]] std::size_t cart_count() const { return carts_.size(); }

  void command(CartIx cart, const Command& command) { carts_[cart.value].command = command; }
  /// Somebody puts on, or takes off, the load that the cart asks for, at once; if it doesn't, or
  /// has had it, nothing changes.
  void handled_by_hand(CartIx cart);
  [[nodiscard]] const Sensed& sensed(CartIx cart) const { return carts_[cart.value].sensed; }

  /// `step_time` passes.
  void step();
  /// Time since the world began.
  [[nodiscard]] std::chrono::milliseconds now() const { return now_; }

  // ---- people and mishaps --------------------------------------------------------------------
  /// Something stands before the cart for that long; its scanner sees it.
  void block(CartIx cart, std::chrono::milliseconds how_long);
  void lift_away(CartIx cart);
  /// Sets the cart down with its reader `beyond` mm past the point of the pose.
  void put_down(CartIx cart, PoseIx standing, double beyond = 0);
  enum class Push { behind, ahead };
  /// Where the cart would stand if it were pushed along the tape onto the tag it passed last, or
  /// onto the next one; nothing off the tape.
  [[nodiscard]] std::optional<PoseIx> pushed(CartIx cart, Push where) const;
  void set_battery(CartIx cart, double percent) { carts_[cart.value].battery = percent; }
  void set_miss_rate(double rate) { options_.miss_rate = rate; }
  /// The tags of this point can't be read any more.
  void spoil_tags(PointIx point) { spoilt_.insert(point); }

  // ---- truth ---------------------------------------------------------------------------------
  [[nodiscard]] Truth truth(CartIx cart) const;
  /// How far the reader is past a point (before it: negative), mm, if it is on a leg of tape that
  /// begins or ends there.
  [[nodiscard]] std::optional<double> past(CartIx cart, PointIx point) const;
  [[nodiscard]] const Referee& referee() const { return referee_; }
  /// Distance driven by all carts, mm, and loads taken on or given off.
  [[nodiscard]] double distance() const;
  [[nodiscard]] std::uint64_t handled() const { return handled_; }
  /// The same by the point where it was done; away from all points it is not counted here.
  [[nodiscard]] const std::map<PointIx, Handlings>& handled_at() const { return handled_at_; }
  /// Loads taken on by a cart that had one on, or given off by one that had none.
  [[nodiscard]] std::uint64_t handled_amiss() const { return handled_amiss_; }
  [[nodiscard]] const floor::Ways& ways() const { return *ways_; }

 private:
  struct Turning {
    const floor::Move* move{};
    Rectangle start;
    double angle{};
    double done_s{}, takes_s{};
  };
  struct Pass {
    PointIx point;
    /// When it tries next.
    std::chrono::milliseconds next{};
  };
  struct Cart {
    Cart(std::string its_name, Trail its_trail, Random its_random)
        : name{std::move(its_name)}, trail{std::move(its_trail)}, random{its_random} {}
    std::string name;
    Trail trail;
    Random random;
    double speed_factor{1}, odometer_factor{1};
    double speed{}, odometer{}, driven{}, battery{100};
    floor::Gear gear{floor::Gear::forward};
    bool on_floor{true};
    Command command;
    Sensed sensed;
    std::optional<Turning> turning;
    std::optional<Pass> pass;
    Handling handling{Handling::none};
    double handling_left_s{};
    bool loaded{false};
    std::chrono::milliseconds blocked_until{};
    double stood_s{};
  };

  void drive(Cart& cart);
  void turn(Cart& cart);
  void handle(Cart& cart);
  void count_handled(Cart& cart);
  void read_tags(Cart& cart);
  void use_battery(Cart& cart, double moved);
  void maybe_block(Cart& cart);
  [[nodiscard]] static Rectangle body(const Cart& cart);
  [[nodiscard]] std::optional<Mark> nearest_mark(const Cart& cart) const;

  const floor::Ways* ways_;
  WorldOptions options_;
  std::vector<Cart> carts_;
  std::chrono::milliseconds now_{0};
  Referee referee_;
  std::set<PointIx> spoilt_;
  std::uint64_t handled_{0}, handled_amiss_{0};
  std::map<PointIx, Handlings> handled_at_;
};

}  // namespace tagline::sim
