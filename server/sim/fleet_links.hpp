// The links between the carts of a fast run and the service: every message takes the same time, a
// lost link loses what is on its way to the cart, and what the cart had to say waits until the next
// connection. Knows what is sent and what arrives, not what it means.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/outcome.hpp"
#include "server/sim/fleet_agenda.hpp"
#include "server/sim/fleet_mishaps.hpp"

namespace tagline::sim {

class FleetLinks {
 public:
  struct ToService {
    double due{};
    CartIx cart;
    std::uint32_t epoch{};
    control::Event event;
  };
  struct ToCart {
    double due{};
    CartIx cart;
    std::uint32_t epoch{};
    control::Message message;
  };

  /// Both must outlive this.
  FleetLinks(std::size_t carts, FleetAgenda& agenda, FleetMishaps& mishaps)
      : agenda_{agenda}, mishaps_{mishaps}, links_(carts) {}

  // ---- messages ------------------------------------------------------------------------------
  /// The cart says this, now or once it is connected again; reports aren't kept.
  void say(CartIx cart, control::Event event);
  /// The service tells a cart this, on the connection it last heard from.
  void tell(CartIx cart, control::Message message);
  /// When the next one arrives; never if none is on its way.
  [[nodiscard]] double to_service_due() const;
  [[nodiscard]] double to_cart_due() const;
  /// Takes that one off; nothing if its connection has been lost meanwhile.
  std::optional<ToService> take_to_service();
  std::optional<ToCart> take_to_cart();

  // ---- connections ---------------------------------------------------------------------------
  /// The link is lost: sets down when the service notices and when the link is back.
  void lose(CartIx cart);
  /// It is back, and the cart greets: sets down the end of the welcome and the next loss.
  void come_back(CartIx cart, control::Event greeting);
  /// The cart is welcomed: what went unsent is sent.
  void welcome(CartIx cart);
  [[nodiscard]] bool up(CartIx cart) const { return links_[cart.value].up; }
  /// The cart is still on that connection.
  [[nodiscard]] bool still_on(CartIx cart, std::uint32_t epoch) const {
    return links_[cart.value].epoch == epoch;
  }

  // ---- what the service knows of it ----------------------------------------------------------
  [[nodiscard]] bool known_lost(CartIx cart) const { return links_[cart.value].known_lost; }
  void know_lost(CartIx cart) { links_[cart.value].known_lost = true; }
  /// The service has the cart's greeting on that connection.
  void know_greeted(CartIx cart, std::uint32_t epoch);

 private:
  struct Link {
    /// Grows with every loss and every return; what was sent in another one is lost.
    std::uint32_t epoch{0};
    bool up{true}, welcomed{true};
    /// The one in which the service last heard from it.
    std::uint32_t service_epoch{0};
    bool known_lost{false};
    std::vector<control::Event> unsent;
  };

  void send(CartIx cart, control::Event event);

  FleetAgenda& agenda_;
  FleetMishaps& mishaps_;
  std::vector<Link> links_;
  // Every message takes the same time, so these are in the order of their dues.
  std::deque<ToService> to_service_;
  std::deque<ToCart> to_cart_;
};

}  // namespace tagline::sim
