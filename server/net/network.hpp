// The network thread: one event loop with the listener, the HTTP and WebSocket sessions and the
// timers. Boost stays behind this header (see session.hpp), because it is slow to compile.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

#include "server/net/crowd.hpp"
#include "server/net/http_message.hpp"
#include "server/net/tls.hpp"
#include "server/net/ws_link.hpp"

namespace tagline::net {

struct NetLimits {
  std::size_t head_bytes{8 * 1024};
  std::size_t body_bytes{16 * 1024};
  /// For the few who send a whole floor (HttpHandler::most_body()).
  std::size_t largest_body_bytes{2 * 1024 * 1024};
  /// For a whole request, head and body; also how long an idle connection is kept.
  std::chrono::milliseconds request_time{30'000};
  /// For the other side to take an answer.
  std::chrono::milliseconds answer_time{30'000};
  /// For the first request of a connection.
  std::chrono::milliseconds first_request_time{10'000};
  /// Beyond these a connection is dropped as it comes.
  Crowd::Limits connections{};
};

/// A WebSocket that may be opened.
struct Upgrade {
  std::unique_ptr<WsPeer> peer;
  WsRules rules;
};

/// Who decides about requests. Called on the network thread.
class HttpHandler {
 public:
  virtual ~HttpHandler() = default;
  virtual void on_request(const Request& request, Respond respond) = 0;
  /// How large the body of a request may be, by its head; nothing: as large as is usual.
  virtual std::optional<std::size_t> most_body(const Request& head) {
    (void)head;
    return std::nullopt;
  }
  /// `offered` are the subprotocols the client would speak.
  virtual std::variant<Upgrade, Response> on_upgrade(const Request& request,
                                                     const std::vector<std::string>& offered) = 0;
};

/// Can't listen there; what() says where, why and what to do.
struct ListenError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

class Network {
 public:
  explicit Network(NetLimits limits = {});
  ~Network();
  Network(const Network&) = delete;
  Network& operator=(const Network&) = delete;

  /// Binds and listens; connections wait until run(). Port 0 takes a free one. Returns the port.
  /// `address` is an IPv4 or IPv6 address. Throws ListenError.
  std::uint16_t listen(const std::string& address, std::uint16_t port);

  /// Before run(): whoever begins with TLS is answered in it, on the same port. Whether others are
  /// let in is the handler's to say (Request::over_tls). Throws TlsError.
  void encrypt(const TlsFiles& files);

  /// Serves on the calling thread until stop(). `handler` must outlive it.
  void run(HttpHandler& handler);
  /// Thread-safe: has `task` run on the network thread.
  void post(std::function<void()> task);

  // On the network thread, or before run():
  void after(std::chrono::milliseconds delay, std::function<void()> task);
  void every(std::chrono::milliseconds interval, std::function<void()> task);
  /// SIGINT or SIGTERM.
  void on_signal(std::function<void(int)> task);
  void stop_listening();
  /// HTTP connections end after the answer they are waiting for, idle ones at once.
  void finish_requests();
  /// True when no connection of any kind is left.
  [[nodiscard]] bool quiet() const;
  void stop();

  struct State;

 private:
  std::unique_ptr<State> state_;
};

}  // namespace tagline::net
