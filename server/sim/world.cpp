// Physics of the carts: see world.hpp.
#include "server/sim/world.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace tagline::sim {
namespace {

constexpr double dt = static_cast<double>(step_time.count()) / 1000;
constexpr std::chrono::milliseconds try_again{140};
constexpr double charger_reach = 150;
constexpr double percent_per_mm = 100.0 / 9e6;
constexpr double percent_per_s_standing = 100.0 / (100 * 3600);
constexpr double percent_per_s_charging = 100.0 / (90 * 60);

/// Distance moved in one step from `speed` towards `target`, and the speed after it.
double move(double& speed, double target, double acceleration, double deceleration) {
  const double rate = target >= speed ? acceleration : -deceleration;
  const double reaches_after = rate == 0 ? 0 : (target - speed) / rate;
  const double before = speed;
  if (reaches_after >= dt) {
    speed += rate * dt;
    return (before + speed) / 2 * dt;
  }
  speed = target;
  return (before + target) / 2 * reaches_after + target * (dt - reaches_after);
}

}  // namespace

World::World(const floor::Ways& ways, WorldOptions options) : ways_{&ways}, options_{options} {}

CartIx World::add_cart(std::string name, PoseIx standing) {
  Random random{options_.seed * 1'000'003 + carts_.size()};
  Cart cart{std::move(name), Trail{*ways_, standing, 0}, random};
  if (options_.vary_carts) {
    cart.speed_factor = cart.random.between(0.96, 1);
    cart.odometer_factor = cart.random.between(0.995, 1.005);
    cart.battery = cart.random.between(80, 100);
  }
  carts_.push_back(std::move(cart));
  read_tags(carts_.back());
  carts_.back().sensed.battery = static_cast<int>(carts_.back().battery);
  return {static_cast<std::uint32_t>(carts_.size() - 1)};
}

void World::step() {
  now_ += step_time;
  std::vector<SeenBody> bodies;
  std::vector<std::size_t> who;
  for (std::size_t i = 0; i < carts_.size(); ++i) {
    Cart& cart = carts_[i];
    cart.sensed.turned = cart.sensed.handled = cart.sensed.bumper = false;
    cart.sensed.tags.clear();
    if (!cart.on_floor) continue;
    maybe_block(cart);
    const double driven = cart.driven;
    if (cart.turning || (cart.command.turn && cart.speed == 0)) {
      turn(cart);
    } else {
      drive(cart);
    }
    handle(cart);
    read_tags(cart);
    use_battery(cart, cart.driven - driven);
    cart.sensed.odometer = static_cast<std::int32_t>(std::lround(cart.odometer));
    cart.sensed.standing = cart.speed == 0 && !cart.turning;
    cart.sensed.obstacle = now_ < cart.blocked_until;
    cart.sensed.tape = cart.trail.on_tape();
    cart.sensed.battery = static_cast<int>(cart.battery);
    bodies.push_back({cart.name, body(cart)});
    who.push_back(i);
  }
  for (const auto& [a, b] : referee_.look(now_, bodies)) {
    carts_[who[a]].sensed.bumper = true;
    carts_[who[b]].sensed.bumper = true;
  }
}

void World::drive(Cart& cart) {
  const floor::CartBody& limits = ways_->floor().cart;
  const bool can = cart.battery > 0 && cart.command.handling == Handling::none &&
                   !cart.command.turn && cart.command.gear == cart.gear;
  if (cart.speed == 0 && cart.command.gear != cart.gear) {
    cart.gear = cart.command.gear;
    return;
  }
  const double target = can ? cart.command.speed * cart.speed_factor : 0;
  const Choice choice{cart.command.branch, cart.command.straight_on};
  const bool forward = cart.gear == floor::Gear::forward;
  if (cart.speed == 0 && target > 0 && forward) cart.trail.choose_again(choice);
  const double moved = move(cart.speed, target, static_cast<double>(limits.acceleration.value),
                            static_cast<double>(limits.deceleration.value));
  if (moved == 0) return;
  if (forward) {
    cart.trail.forward(moved, choice);
  } else {
    cart.trail.backward(moved);
  }
  cart.driven += moved;
  cart.odometer += (forward ? moved : -moved) * cart.odometer_factor;
}

void World::turn(Cart& cart) {
  if (!cart.turning) {
    const floor::Move* into = cart.trail.turn_move(cart.command.branch);
    if (into == nullptr) return;  // no tape to find: it stands there turning in vain
    const floor::Pose& to = (*ways_)[into->to];
    const double leaving = floor::tape_of(ways_->floor(), to.by, to.reversed).start_heading();
    Turning turning;
    turning.move = into;
    turning.start = cart.trail.body();
    const double heading = std::atan2(turning.start.along.y, turning.start.along.x);
    turning.angle = floor::turn_between(heading, leaving);
    turning.takes_s = static_cast<double>(floor::turn_round_time.count()) / 1000 *
                      std::abs(turning.angle) / std::numbers::pi;
    cart.turning = turning;
  }
  if (!cart.command.turn || cart.battery <= 0) return;  // told to stand: it stays half turned
  cart.turning->done_s += dt;
  if (cart.turning->done_s < cart.turning->takes_s) return;
  cart.trail.turn_into(*cart.turning->move);
  cart.turning.reset();
  cart.sensed.turned = true;
}

void World::handle(Cart& cart) {
  if (cart.command.handling == Handling::none || cart.speed != 0) {
    cart.handling = Handling::none;
    return;
  }
  if (cart.handling == Handling::none) {
    cart.handling = cart.command.handling;
    double usual_s = 5;
    if (const auto mark = nearest_mark(cart)) {
      for (const floor::Station& station : ways_->floor().stations) {
        if (station.point != mark->point) continue;
        const Duration usual = cart.handling == Handling::load ? station.load : station.unload;
        usual_s = static_cast<double>(usual.count()) / 1000;
        break;
      }
    }
    cart.handling_left_s = usual_s * cart.random.between(0.8, 1.2);
  }
  if (cart.handling_left_s <= 0) return;  // done; waits for the command to end
  cart.handling_left_s -= dt;
  if (cart.handling_left_s <= 0) {
    cart.handling_left_s = 0;
    cart.sensed.handled = true;
    count_handled(cart);
  }
}

void World::handled_by_hand(CartIx ix) {
  Cart& cart = carts_[ix.value];
  const bool over = cart.handling != Handling::none && cart.handling_left_s <= 0;
  if (cart.command.handling == Handling::none || over) return;
  cart.handling = cart.command.handling;
  cart.handling_left_s = 0;
  count_handled(cart);
}

void World::count_handled(Cart& cart) {
  const bool loads = cart.handling == Handling::load;
  ++handled_;
  if (cart.loaded == loads) ++handled_amiss_;
  cart.loaded = loads;
  if (const auto mark = nearest_mark(cart)) {
    Handlings& here = handled_at_[mark->point];
    ++(loads ? here.loaded : here.unloaded);
  }
}

std::optional<Mark> World::nearest_mark(const Cart& cart) const {
  std::optional<Mark> nearest;
  for (const Mark& mark : cart.trail.marks()) {
    if (!nearest || std::abs(mark.reader) < std::abs(nearest->reader)) nearest = mark;
  }
  return nearest;
}

void World::read_tags(Cart& cart) {
  const std::optional<Mark> mark = nearest_mark(cart);
  if (cart.turning || !mark || std::abs(mark->reader) > options_.reader_window) {
    cart.pass.reset();
    return;
  }
  if (!cart.pass || cart.pass->point != mark->point) cart.pass = Pass{mark->point, now_};
  if (now_ < cart.pass->next || spoilt_.contains(mark->point)) return;
  cart.pass->next = now_ + try_again;
  for (const std::string& tag : ways_->floor()[mark->point].tags) {
    if (!cart.random.chance(options_.miss_rate)) cart.sensed.tags.push_back(tag);
  }
}

void World::use_battery(Cart& cart, double moved) {
  cart.stood_s = moved == 0 ? cart.stood_s + dt : 0;
  cart.battery -= moved * percent_per_mm + dt * percent_per_s_standing;
  const std::optional<Mark> mark = nearest_mark(cart);
  if (cart.stood_s > 2 && mark && std::abs(mark->reader) < charger_reach &&
      ways_->floor().has_charger(mark->point)) {
    cart.battery += dt * percent_per_s_charging;
  }
  cart.battery = std::clamp(cart.battery, 0.0, 100.0);
}

void World::maybe_block(Cart& cart) {
  if (options_.stalls_per_hour <= 0) return;
  if (cart.random.chance(options_.stalls_per_hour * dt / 3600)) {
    const double seconds = cart.random.between(5, 60);
    cart.blocked_until = now_ + std::chrono::milliseconds{std::llround(seconds * 1000)};
  }
}

void World::block(CartIx cart, std::chrono::milliseconds how_long) {
  carts_[cart.value].blocked_until = now_ + how_long;
}

void World::lift_away(CartIx ix) {
  Cart& cart = carts_[ix.value];
  cart.on_floor = false;
  cart.speed = 0;
  cart.turning.reset();
  cart.pass.reset();
  cart.sensed.standing = true;
  cart.sensed.tape = false;
}

void World::put_down(CartIx ix, PoseIx standing, double beyond) {
  lift_away(ix);
  Cart& cart = carts_[ix.value];
  cart.trail = Trail{*ways_, standing, beyond};
  cart.on_floor = true;
  cart.gear = floor::Gear::forward;
  cart.sensed.tape = cart.trail.on_tape();
}

std::optional<PoseIx> World::pushed(CartIx ix, Push where) const {
  const Trail& trail = carts_[ix.value].trail;
  return where == Push::ahead ? trail.ahead() : trail.behind();
}

Rectangle World::body(const Cart& cart) {
  if (!cart.turning) return cart.trail.body();
  const Turning& turning = *cart.turning;
  Rectangle body = turning.start;
  const double share = turning.takes_s > 0 ? std::min(1.0, turning.done_s / turning.takes_s) : 1;
  const double c = std::cos(turning.angle * share);
  const double s = std::sin(turning.angle * share);
  body.along = {turning.start.along.x * c - turning.start.along.y * s,
                turning.start.along.x * s + turning.start.along.y * c};
  return body;
}

Truth World::truth(CartIx ix) const {
  const Cart& cart = carts_[ix.value];
  Truth truth;
  truth.on_floor = cart.on_floor;
  truth.body = body(cart);
  truth.reader = cart.trail.spot().at;
  truth.speed = cart.speed;
  truth.segment = cart.trail.segment();
  truth.along = cart.trail.along();
  truth.driven = cart.driven;
  return truth;
}

std::optional<double> World::past(CartIx cart, PointIx point) const {
  std::optional<double> result;
  for (const Mark& mark : carts_[cart.value].trail.marks()) {
    if (mark.point != point) continue;
    if (!result || std::abs(mark.reader) < std::abs(*result)) result = mark.reader;
  }
  return result;
}

double World::distance() const {
  double sum = 0;
  for (const Cart& cart : carts_) sum += cart.driven;
  return sum;
}

}  // namespace tagline::sim
