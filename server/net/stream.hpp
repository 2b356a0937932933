// Inside the network only: the bytes of one connection, in the clear or through TLS, behind one
// type, so that HTTP and WebSockets are written, and compiled, once.
#pragma once

#include <array>
#include <boost/asio/any_completion_handler.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/websocket/teardown.hpp>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

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
        [this](auto handler, const Into& into) { read_some(into, Done(std::move(handler))); },
        token, Into(buffers));
  }
  template <class Buffers, class Token>
  auto async_write_some(const Buffers& buffers, Token&& token) {
    return boost::asio::async_initiate<Token, void(Error, std::size_t)>(
        [this](auto handler, const From& from) { write_some(from, Done(std::move(handler))); },
        token, From(buffers));
  }

  /// From now on what is written waits for what is written after gather(false), and goes out with
  /// it in one piece: what is sent together costs both sides half as much. Only while more is to be
  /// written; what has gathered goes out before the connection is ended, too.
  void gather(bool more_comes) { held_->gathering = more_comes; }
  /// Bytes.
  [[nodiscard]] std::size_t gathered() const { return held_->gathered.size(); }

  /// Beast cuts a WebSocket that takes too long to open or to close with this.
  friend void beast_close_socket(Stream& stream) { stream.tcp().close(); }

  /// Beast ends the connection of a WebSocket that both sides have closed with this. What is
  /// encrypted ends with a close_notify (RFC 8446, 6.1).
  template <class Handler>
  friend void async_teardown(boost::beast::role_type role, Stream& stream, Handler&& handler) {
    stream.end(role, Ended(std::forward<Handler>(handler)));
  }

  /// For the other side's close_notify.
  static constexpr std::chrono::milliseconds longest_goodbye{1'000};

 private:
  // What is below here would be compiled for each of Beast's operations, whose types are thousands
  // of letters long: half of what the compiler had to do for the whole program.
  using Done = boost::asio::any_completion_handler<void(Error, std::size_t)>;
  using Ended = boost::asio::any_completion_handler<void(Error)>;

  /// The first buffers of a sequence: what reads or writes "some" need not take all.
  template <class Buffer>
  class FirstOf {
   public:
    template <class Buffers>
    explicit FirstOf(const Buffers& buffers) {
      for (auto at = boost::asio::buffer_sequence_begin(buffers);
           at != boost::asio::buffer_sequence_end(buffers) && count_ < first_.size(); ++at)
        if (const Buffer buffer(*at); buffer.size() > 0) first_[count_++] = buffer;
    }
    [[nodiscard]] const Buffer* begin() const { return first_.data(); }
    [[nodiscard]] const Buffer* end() const { return first_.data() + count_; }

   private:
    std::array<Buffer, 8> first_{};
    std::size_t count_{0};
  };
  using Into = FirstOf<boost::asio::mutable_buffer>;
  using From = FirstOf<boost::asio::const_buffer>;

  void read_some(const Into& into, Done done);
  void write_some(const From& from, Done done);
  void write_gathered(const From& from, Done done);
  /// Writes `bytes` and what it is told is done then; keeps them until then.
  template <class Then>
  void write_whole(std::vector<unsigned char> bytes, Then then);
  void end(boost::beast::role_type role, Ended ended);

  struct Held {
    explicit Held(boost::asio::ip::tcp::socket socket) : tcp(std::move(socket)) {}
    boost::beast::tcp_stream tcp;
    std::optional<Tls> tls;  // refers to tcp: neither ever moves
    std::vector<unsigned char> gathered;
    bool gathering{false};
  };
  std::unique_ptr<Held> held_;
};

}  // namespace tagline::net
