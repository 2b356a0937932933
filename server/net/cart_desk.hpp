// The service's side of the cart link: who may greet, what counts twice, what is acknowledged
// when. One desk for all carts; it holds no socket. The contract is protocol/README.md.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "protocol/codec.hpp"
#include "server/access/secret.hpp"
#include "server/floor/floor.hpp"
#include "server/net/cart_listener.hpp"
#include "server/net/release.hpp"
#include "server/net/wrong_keys.hpp"
#include "server/net/ws_link.hpp"

namespace tagline::net {

/// A cart that may connect.
struct KnownCart {
  std::string id;
  /// Of what it greets with.
  access::Digest key;
};

/// All on the network thread.
class CartDesk {
 public:
  /// Messages of one cart that may be on their way through the core; more wait in its socket.
  static constexpr std::size_t most_in_flight = 64;

  /// `fleet` is in CartIx order. `floor` and `inbox` must outlive it.
  CartDesk(const floor::Floor& floor, std::vector<KnownCart> fleet, Inbox& inbox);
  ~CartDesk();
  /// Tells it too what carts report, from now on. It must outlive this.
  void tell(CartListener& listener) { listener_ = &listener; }

  /// Where too many wrong keys came from, a greeting is looked at only after this.
  static constexpr std::chrono::milliseconds delay_of_suspects{2'000};

  /// A link in version `subprotocol`, with a clock that runs `pace` times faster than the wall:
  /// carts then report as much more often.
  [[nodiscard]] static WsRules rules(std::string_view subprotocol, int pace);
  /// `address` is where the connection comes from.
  std::unique_ptr<WsPeer> new_peer(std::string address = {});
  /// Time goes on; to be called several times a second.
  void tick(Budget::Time now);

  /// Welcomes, messages and acknowledgements of one committed outcome.
  void deliver(const Release& release);
  /// Tells every connected cart to stop, past any order.
  void stop_all(const std::string& reason);
  /// From now on it greets with another key; the link it has with the old one is closed.
  void change_key(CartIx cart, const access::Digest& key);
  /// It may not greet any more, and the link it has is closed with that reason.
  void shut_out(CartIx cart, std::string_view reason);
  void let_in_again(CartIx cart) { carts_[cart.value].shut_out = false; }
  /// Closes every link; no event is posted for it.
  void close_all(protocol::CloseCode code, std::string_view reason);

 private:
  class Peer;
  /// What is known of a cart while the service runs.
  struct Entry {
    KnownCart known;
    bool shut_out{false};
    std::optional<std::string> boot;
    protocol::Seq taken{0};  // highest seq of this boot handed to the core
    protocol::Seq acked{0};  // highest that has taken effect
    Peer* peer{nullptr};     // set while connected
  };

  [[nodiscard]] std::optional<CartIx> check_key(const protocol::Hello& hello) const;

  const floor::Floor& floor_;
  Inbox& inbox_;
  CartListener* listener_{nullptr};
  std::vector<Entry> carts_;
  std::uint64_t last_link_{0};
  WrongKeys wrong_keys_;
  std::set<Peer*> waiting_;  // with a greeting that is not looked at yet
  Budget::Time now_{};
};

}  // namespace tagline::net
