// One WebSocket connection of a load generator, and a bare echo server to compare with. Both are
// Boost.Beast with no more round it than needed; RFC 6455 ends and errors end the benchmark.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <cstdint>
#include <deque>
#include <filesystem>
#include <string>
#include <string_view>

#include "tests/bench/net/figures.hpp"

namespace tagline::bench {

class Line {
 public:
  /// Connects to 127.0.0.1 and shakes hands, which blocks; reads from then on whenever `io` runs.
  /// Throws boost::system::system_error.
  Line(boost::asio::io_context& io, std::uint16_t port, const std::string& target,
       const std::string& subprotocol);
  virtual ~Line() = default;
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;

  /// Calls turn() every `period` from `first` on until stop_turns().
  void start_turns(Steady::time_point first, Steady::duration period);
  void stop_turns() { turning_ = false; }

 protected:
  void send(std::string text);
  virtual void on_text(std::string_view text) = 0;
  virtual void turn() = 0;

 private:
  void read_next();
  void write_next();
  void wait_for_turn();

  boost::beast::websocket::stream<boost::asio::ip::tcp::socket> ws_;
  boost::asio::steady_timer timer_;
  boost::beast::flat_buffer buffer_;
  std::deque<std::string> queue_;
  Steady::time_point next_turn_;
  Steady::duration period_{};
  bool turning_{false};
};

/// Serves 127.0.0.1 until it is ended: each text comes back as it came. Writes its port to the
/// file. Returns an exit code.
int run_echo_server(const std::filesystem::path& port_file);

}  // namespace tagline::bench
