// The routes below /api/fleet (API.md): a builder sees which carts may connect, adds one and is
// shown its key once, gives one a new key, takes one out.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "server/net/aside.hpp"
#include "server/net/board_model.hpp"
#include "server/net/cart_desk.hpp"
#include "server/net/fleet_office.hpp"
#include "server/net/http_message.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

/// On the network thread, but for its thread that waits for the office.
class FleetDesk {
 public:
  struct Setup {
    /// Null: this service's fleet can't be changed here.
    FleetOffice* office;
    /// In CartIx order.
    const std::vector<std::string>& cart_names;
    const BoardModel& model;
    CartDesk& desk;
    PostTask post;
    /// The fleet is another one: ends this run of the service, for the next to take it up.
    std::function<void()> begin_anew;
  };
  /// What `setup` refers to must outlive it.
  explicit FleetDesk(Setup setup);

  /// `target.pieces` begins with api, fleet.
  void handle(const Request& request, const Target& target, const Visitor& visitor,
              Respond respond);

 private:
  void list(const Visitor& visitor, const Respond& respond);
  void add(const Request& request, const Visitor& visitor, Respond respond);
  void change_key(CartIx cart, const Visitor& visitor, Respond respond);
  void revoke(CartIx cart, const Visitor& visitor, Respond respond);
  /// One change at a time, whoever asks: false, and answered, if another one is being made.
  bool begin(const Respond& respond);

  Setup setup_;
  bool changing_{false};
  SideThread files_;
};

}  // namespace tagline::net
