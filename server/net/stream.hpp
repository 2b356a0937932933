// Inside the network only: the bytes of one connection, in the clear or through TLS, behind one
// type, so that HTTP and WebSockets are written, and compiled, once.
#pragma once

#include <boost/asio/async_result.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/websocket/teardown.hpp>
#include <memory>
#include <optional>

namespace tagline::net {

/// Models Beast's AsyncStream. Deadlines are the tcp()'s, for what is encrypted too.
class Stream {
 public:
  using executor_type = boost::beast::tcp_stream::executor_type;
  using Error = boost::beast::error_code;
  using Tls = boost::asio::ssl::stream<boost::beast::tcp_stream&>;

  explicit Stream(boost::asio::ip::tcp::socket socket)
      : held_(std::make_unique<Held>(std::move(socket))) {}

  executor_type get_executor() const { return held_->tcp.get_executor(); }
  [[nodiscard]] boost::beast::tcp_stream& tcp() { return held_->tcp; }
  /// Null in the clear.
  [[nodiscard]] Tls* tls() { return held_->tls ? &*held_->tls : nullptr; }
  /// From now on through TLS; its handshake is the caller's.
  Tls& encrypt(boost::asio::ssl::context& context) {
    return held_->tls.emplace(held_->tcp, context);
  }

  template <class Buffers, class Token>
  auto async_read_some(const Buffers& buffers, Token&& token) {
    return boost::asio::async_initiate<Token, void(Error, std::size_t)>(
        [this](auto handler, const Buffers& into) {
          if (Tls* through = tls())
            through->async_read_some(into, std::move(handler));
          else
            tcp().async_read_some(into, std::move(handler));
        },
        token, buffers);
  }
  template <class Buffers, class Token>
  auto async_write_some(const Buffers& buffers, Token&& token) {
    return boost::asio::async_initiate<Token, void(Error, std::size_t)>(
        [this](auto handler, const Buffers& from) {
          if (Tls* through = tls())
            through->async_write_some(from, std::move(handler));
          else
            tcp().async_write_some(from, std::move(handler));
        },
        token, buffers);
  }

  /// Beast cuts a WebSocket that takes too long to open or to close with this.
  friend void beast_close_socket(Stream& stream) { stream.tcp().close(); }

  /// Beast ends the connection of a WebSocket that both sides have closed with this. What is
  /// encrypted ends with a close_notify (RFC 8446, 6.1).
  template <class Handler>
  friend void async_teardown(boost::beast::role_type role, Stream& stream, Handler&& handler) {
    if (Tls* through = stream.tls()) {
      stream.tcp().expires_after(longest_goodbye);
      through->async_shutdown(std::forward<Handler>(handler));
    } else {
      boost::beast::websocket::async_teardown(role, stream.tcp().socket(),
                                              std::forward<Handler>(handler));
    }
  }

  /// For the other side's close_notify.
  static constexpr std::chrono::milliseconds longest_goodbye{1'000};

 private:
  struct Held {
    explicit Held(boost::asio::ip::tcp::socket socket) : tcp(std::move(socket)) {}
    boost::beast::tcp_stream tcp;
    std::optional<Tls> tls;  // refers to tcp: neither ever moves
  };
  std::unique_ptr<Held> held_;
};

}  // namespace tagline::net
