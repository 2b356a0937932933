// Cart logic + body + link end: see virtual_cart.hpp.
#include "server/sim/virtual_cart.hpp"

#include <algorithm>
#include <type_traits>
#include <utility>
#include <variant>

namespace tagline::sim {
namespace {

using namespace std::chrono_literals;

constexpr std::chrono::milliseconds state_every = 5s;
constexpr std::chrono::milliseconds long_ago = -1h;

cart::CartBuild build_of(const floor::CartBody& body) {
  cart::CartBuild build{};
  build.length = static_cast<std::int16_t>(body.length.value);
  build.reader_to_nose = static_cast<std::int16_t>(body.reader_to_nose.value);
  build.speed = static_cast<std::uint16_t>(body.speed.value);
  build.deceleration = static_cast<std::uint16_t>(body.deceleration.value);
  build.creep = static_cast<std::uint16_t>(std::min<std::int64_t>(100, body.speed.value));
  return build;
}

// The enumerations of the wire, of the cart logic and of the floor say the same in the same order.
template <class To, class From>
To same_as(From value) {
  return static_cast<To>(static_cast<int>(value));
}
static_assert(static_cast<int>(cart::Act::unload) == static_cast<int>(protocol::Act::unload));
static_assert(static_cast<int>(cart::Fault::reader) == static_cast<int>(protocol::Fault::reader));
static_assert(static_cast<int>(cart::StopCause::service) ==
              static_cast<int>(protocol::StopCause::service));
static_assert(static_cast<int>(cart::Branch::right) == static_cast<int>(floor::Branch::right));
static_assert(static_cast<int>(cart::Gear::back) == static_cast<int>(floor::Gear::back));
static_assert(static_cast<int>(cart::Handling::unload) == static_cast<int>(Handling::unload));

cart::Tag tag_of(const std::string& hex) {
  cart::Tag tag = cart::no_tag();
  cart::tag_from_hex(hex.c_str(), tag);
  return tag;
}

std::string hex_of(const cart::Tag& tag) {
  char text[cart::tag_text_size];
  cart::tag_to_hex(tag, text);
  return text;
}

protocol::CartMessage message_of(const cart::Outgoing& out) {
  const cart::Event& event = out.event;
  const protocol::Seq seq = out.seq;
  switch (event.kind) {
    case cart::EventKind::read:
      return protocol::Read{seq, hex_of(event.tag), event.step};
    case cart::EventKind::done:
      return protocol::Done{seq, event.step,
                            event.handling == cart::Handling::load ? protocol::Handling::load
                                                                   : protocol::Handling::unload};
    case cart::EventKind::stop:
      return protocol::Stop{seq, same_as<protocol::StopCause>(event.cause)};
    case cart::EventKind::release:
      break;
  }
  return protocol::Release{seq};
}

}  // namespace

VirtualCart::VirtualCart(World& world, CartIx cart, CartIdentity identity)
    : world_{&world},
      cart_{cart},
      identity_{std::move(identity)},
      logic_{build_of(world.ways().floor().cart)},
      told_at_{long_ago} {
  const std::vector<std::string>& seen = world.sensed(cart).tags;
  // Set up standing over the tag: a person showed it that tag. (A miss of the reader at this
  // moment only makes it drive its first stretch slowly.)
  logic_.power_up({seen.empty() ? cart::no_tag() : tag_of(seen.front()), false, false},
                  !seen.empty(), world.sensed(cart).odometer);
}

// ---- link ------------------------------------------------------------------------------------

protocol::Hello VirtualCart::on_connected() {
  connected_ = true;
  welcomed_ = false;
  ready_.clear();
  protocol::Hello hello;
  hello.cart = identity_.id;
  hello.key = identity_.key;
  hello.boot = identity_.boot;
  hello.last_tag = hex_of(logic_.last_tag());
  hello.step = logic_.passed();
  hello.until = logic_.until();
  hello.loaded = logic_.loaded();
  hello.battery = world_->sensed(cart_).battery;
  hello.stopped = logic_.stopped_here();
  return hello;
}

void VirtualCart::on_disconnected() {
  connected_ = welcomed_ = false;
  ready_.clear();
}

void VirtualCart::receive(const protocol::ServiceMessage& message) {
  if (!connected_) return;
  std::visit(
      [&](const auto& m) {
        using M = std::decay_t<decltype(m)>;
        if constexpr (std::is_same_v<M, protocol::Welcome>) {
          welcomed_ = true;
          outbox_.on_welcome(static_cast<cart::Seq>(m.seq));
          make_ready();
          told_at_ = long_ago;
        } else if constexpr (std::is_same_v<M, protocol::Ack>) {
          outbox_.on_ack(static_cast<cart::Seq>(m.seq));
        } else if constexpr (std::is_same_v<M, protocol::Authority>) {
          take(m);
        } else if constexpr (std::is_same_v<M, protocol::Hold>) {
          hold_reason_ = m.reason;
        } else if constexpr (std::is_same_v<M, protocol::ServiceStop>) {
          logic_.on_service_stop();
        } else if constexpr (std::is_same_v<M, protocol::ServiceRelease>) {
          logic_.on_service_release();
        } else if constexpr (std::is_same_v<M, protocol::Reset>) {
          logic_.reset();
        } else if constexpr (std::is_same_v<M, protocol::Handled>) {
          const auto what =
              m.what == protocol::Handling::load ? cart::Handling::load : cart::Handling::unload;
          if (logic_.on_handled(static_cast<cart::Step>(m.step), what))
            world_->handled_by_hand(cart_);
        }
      },
      message);
}

void VirtualCart::take(const protocol::Authority& authority) {
  if (authority.points.empty()) return;
  if (!logic_.authority_begin(static_cast<cart::Step>(authority.points.front().step),
                              static_cast<cart::Step>(authority.points.back().step),
                              static_cast<cart::Trip>(authority.trip))) {
    return;
  }
  hold_reason_.clear();
  for (const protocol::AuthorityPoint& point : authority.points) {
    cart::AuthorityPoint p{};
    p.step = static_cast<cart::Step>(point.step);
    p.act = same_as<cart::Act>(point.act);
    p.branch = same_as<cart::Branch>(point.branch);
    p.gear = same_as<cart::Gear>(point.gear);
    p.length = static_cast<std::int32_t>(point.length);
    p.speed = static_cast<std::uint16_t>(std::clamp<std::int64_t>(point.speed, 0, 65535));
    std::vector<cart::Tag> tags;
    for (const std::string& tag : point.tags) tags.push_back(tag_of(tag));
    if (!logic_.authority_point(p, tags.data(), static_cast<std::uint8_t>(tags.size()))) break;
  }
  logic_.authority_end();
}

std::vector<protocol::CartMessage> VirtualCart::take_messages() {
  return std::exchange(ready_, {});
}

void VirtualCart::make_ready() {
  if (!welcomed_) return;
  cart::Outgoing out{};
  while (outbox_.next(out)) ready_.push_back(message_of(out));
}

// ---- cart ------------------------------------------------------------------------------------

void VirtualCart::step() {
  const Sensed& sensed = world_->sensed(cart_);
  for (const std::string& tag : sensed.tags) logic_.on_tag(tag_of(tag), sensed.odometer);
  if (sensed.bumper) logic_.on_stop(cart::StopCause::bumper);
  logic_.set_fault(sensed.battery == 0 ? cart::Fault::battery : cart::Fault::none);
  cart::Senses senses{};
  senses.time_ms = static_cast<std::uint32_t>(world_->now().count());
  senses.odometer = sensed.odometer;
  senses.standing = sensed.standing;
  senses.obstacle = sensed.obstacle;
  senses.tape = sensed.tape;
  senses.turned = sensed.turned;
  senses.handled = sensed.handled;
  const cart::Drive drive = logic_.step(senses);
  Command command;
  command.speed = drive.speed;
  command.gear = same_as<floor::Gear>(drive.gear);
  command.branch = same_as<floor::Branch>(drive.branch);
  command.straight_on = drive.straight_on;
  command.turn = drive.turn;
  command.handling = same_as<Handling>(drive.handling);
  world_->command(cart_, command);
  take_events();
  tell_state(sensed.standing);
}

void VirtualCart::take_events() {
  cart::Event event{};
  while (outbox_.has_room() && logic_.next_event(event)) outbox_.keep(event);
  make_ready();
}

void VirtualCart::tell_state(bool standing) {
  // While the link is down nothing is piled up: a fresh one goes out after Welcome.
  if (!welcomed_) return;
  protocol::State state;
  state.battery = world_->sensed(cart_).battery;
  state.loaded = logic_.loaded();
  state.moving = !standing;
  state.fault = same_as<protocol::Fault>(logic_.fault());
  const bool changed =
      state.loaded != told_.loaded || state.moving != told_.moving || state.fault != told_.fault;
  if (!changed && world_->now() - told_at_ < state_every) return;
  told_ = state;
  told_at_ = world_->now();
  state.seq = outbox_.number_state();
  ready_.emplace_back(state);
}

void VirtualCart::press_stop(protocol::StopCause cause) {
  logic_.on_stop(same_as<cart::StopCause>(cause));
}

void VirtualCart::press_release() { logic_.on_release(); }

void VirtualCart::power_cycle(std::string boot) {
  on_disconnected();
  identity_.boot = std::move(boot);
  outbox_.clear();
  told_at_ = long_ago;
  hold_reason_.clear();
  const cart::Kept kept{logic_.last_tag(), logic_.loaded(), logic_.stopped_here()};
  logic_.power_up(kept, false, world_->sensed(cart_).odometer);
}

}  // namespace tagline::sim
