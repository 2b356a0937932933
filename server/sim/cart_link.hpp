// The link of one virtual cart: connects, greets, passes texts both ways, connects again.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <cstdint>
#include <deque>
#include <memory>
#include <string>

#include "server/sim/virtual_cart.hpp"
#include "server/sim/virtual_carts.hpp"

namespace spdlog {
class logger;
}

namespace boost::asio::ssl {
class context;
}

namespace tagline::sim {

/// All on the thread that runs `io`.
class CartLink {
 public:
  using Tls = std::shared_ptr<boost::asio::ssl::context>;
  /// `tls` must be there if the address asks for it (cart_socket.hpp).
  CartLink(boost::asio::io_context& io, VirtualCart& cart, ServiceAddress service, Tls tls,
           int pace, spdlog::logger& log);
  ~CartLink();
  CartLink(const CartLink&) = delete;
  CartLink& operator=(const CartLink&) = delete;

  /// Starts; goes on until the io_context stops.
  void start();
  /// Sends what the cart has to say by now.
  void flush();
  /// The radio is gone for so long, without a word to the other side.
  void drop(std::chrono::milliseconds how_long);
  /// The service has welcomed the cart on this connection.
  [[nodiscard]] bool connected() const { return welcomed_; }
  /// Links the service closed with a code from 4400 to 4499.
  [[nodiscard]] std::uint64_t refused() const { return refused_; }

 private:
  struct Socket;
  boost::asio::awaitable<void> keep_connected();
  boost::asio::awaitable<void> one_connection();
  boost::asio::awaitable<void> write_queue(std::shared_ptr<Socket> socket);
  void send(std::string text);
  void take(const std::string& text);
  [[nodiscard]] std::chrono::milliseconds pause() const;

  boost::asio::io_context& io_;
  VirtualCart& cart_;
  ServiceAddress service_;
  Tls tls_;
  int pace_;
  spdlog::logger& log_;
  std::shared_ptr<Socket> socket_;
  bool welcomed_{false};
  bool wrong_key_{false};
  std::chrono::seconds wait_{1};
  std::uint64_t refused_{0};
  std::chrono::steady_clock::time_point radio_back_{};
};

}  // namespace tagline::sim
