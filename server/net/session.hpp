// Inside the network only: what the listener, the HTTP sessions and the WebSocket sessions share.
// The one header that includes Boost.Asio and Beast.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>
#include <list>
#include <set>

#include "server/net/network.hpp"
#include "server/net/stream.hpp"

namespace tagline::net {

using Steady = std::chrono::steady_clock;
using UpgradeRequest = boost::beast::http::request<boost::beast::http::string_body>;

/// A WebSocket session, as the network's sweep sees it.
class Swept {
 public:
  virtual ~Swept() = default;
  virtual void sweep(Steady::time_point now) = 0;
};

/// An HTTP session that waits for its next request.
class Idle {
 public:
  virtual ~Idle() = default;
  virtual void cut() = 0;
};

struct Network::State {
  explicit State(NetLimits chosen) : limits(chosen), crowd(chosen.connections) {}
  NetLimits limits;
  HttpHandler* handler{};
  Crowd crowd;
  bool finishing{false};
  std::shared_ptr<boost::asio::ssl::context> tls;  // null: nobody is offered TLS
  std::set<Swept*> sockets;
  std::set<Idle*> idle;
  // After the above, so that sessions that end together with it still find them.
  boost::asio::io_context io{1};
  boost::asio::ip::tcp::acceptor acceptor{io};
  boost::asio::steady_timer accept_pause{io};
  boost::asio::signal_set signals{io};
  std::list<boost::asio::steady_timer> timers;
};

/// Serves one connection until it ends or becomes a WebSocket.
boost::asio::awaitable<void> serve_http(Network::State& state, boost::asio::ip::tcp::socket socket,
                                        std::unique_ptr<Crowd::Place> place);

/// Takes over a connection whose upgrade was granted.
void serve_websocket(Network::State& state, Stream stream, UpgradeRequest request, Upgrade upgrade,
                     std::unique_ptr<Crowd::Place> place);

}  // namespace tagline::net
