// One simulated cart, without a network: the cart-side logic that real carts run, driving a body
// in the World and keeping its messages until the service has taken them. Deterministic: time is
// the world's.
//
// Use: after every World::step() call step(); while connected send what take_messages() gives.
// On a new connection send the Hello of on_connected(); the rest follows after Welcome.
#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "protocol/cart/cart_logic.hpp"
#include "protocol/cart/outbox.hpp"
#include "protocol/messages.hpp"
#include "server/sim/world.hpp"

namespace tagline::sim {

/// How the cart introduces itself.
struct CartIdentity {
  std::string id;
  std::string key;
  /// Differs after every power-up.
  std::string boot;
};

class VirtualCart {
 public:
  /// The cart is `cart` of `world`, standing over a tag; powers up now, unconnected. `world` must
  /// outlive it.
  VirtualCart(World& world, CartIx cart, CartIdentity identity);

  // ---- link ----------------------------------------------------------------------------------
  protocol::Hello on_connected();
  void on_disconnected();
  void receive(const protocol::ServiceMessage& message);
  /// Messages to send now, oldest first: none before Welcome. Each is given once per connection.
  std::vector<protocol::CartMessage> take_messages();
  /// Messages to be sent again if the link is lost: not yet acknowledged, and no states.
  [[nodiscard]] std::size_t unacknowledged() const { return outbox_.kept(); }

  // ---- cart ----------------------------------------------------------------------------------
  /// Senses, decides and commands the body. After every step of the world.
  void step();
  /// Both in one: step(), then take_messages().
  std::vector<protocol::CartMessage> poll() {
    step();
    return take_messages();
  }
  void press_stop(protocol::StopCause cause = protocol::StopCause::button);
  void press_release();
  /// Power off and on: holds nothing any more; last tag, load and a stop made at the cart are
  /// remembered. The connection is gone with it.
  void power_cycle(std::string boot);

  [[nodiscard]] const std::string& id() const { return identity_.id; }
  [[nodiscard]] CartIx cart() const { return cart_; }
  [[nodiscard]] const cart::CartLogic& logic() const { return logic_; }
  /// What the service last said it waits for; "" if nothing.
  [[nodiscard]] const std::string& hold_reason() const { return hold_reason_; }

 private:
  void take(const protocol::Authority& authority);
  void take_events();
  void tell_state(bool standing);
  /// Puts what is to be sent on this connection into ready_.
  void make_ready();

  World* world_;
  CartIx cart_;
  CartIdentity identity_;
  cart::CartLogic logic_;
  cart::Outbox outbox_;
  /// For the next take_messages().
  std::vector<protocol::CartMessage> ready_;
  bool connected_{false};
  bool welcomed_{false};
  protocol::State told_;
  /// World time of the last State; far back = tell now.
  std::chrono::milliseconds told_at_;
  std::string hold_reason_;
};

}  // namespace tagline::sim
