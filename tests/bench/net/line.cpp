// Connections, turns and echo.
#include "tests/bench/net/line.hpp"

#include <boost/asio/write.hpp>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <memory>

namespace tagline::bench {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::ip::tcp;
using beast::error_code;

/// A benchmark whose connection breaks has nothing to say.
void must(const error_code& error, const char* doing) {
  if (!error || error == asio::error::operation_aborted) return;
  std::fprintf(stderr, "bench: %s failed: %s\n", doing, error.message().c_str());
  std::exit(1);
}

class EchoSession : public std::enable_shared_from_this<EchoSession> {
 public:
  explicit EchoSession(tcp::socket socket) : ws_(std::move(socket)) {
    ws_.next_layer().set_option(tcp::no_delay(true));
    ws_.auto_fragment(false);
    ws_.text(true);
  }
  void start() {
    ws_.async_accept([self = shared_from_this()](const error_code& error) {
      if (!error) self->read();
    });
  }

 private:
  void read() {
    ws_.async_read(buffer_, [self = shared_from_this()](const error_code& error, std::size_t) {
      if (error) return;
      self->ws_.async_write(self->buffer_.data(), [self](const error_code& late, std::size_t) {
        if (late) return;
        self->buffer_.consume(self->buffer_.size());
        self->read();
      });
    });
  }
  websocket::stream<tcp::socket, false> ws_;  // as the service's: no compression
  beast::flat_buffer buffer_;
};

void accept_next(tcp::acceptor& acceptor) {
  acceptor.async_accept([&acceptor](const error_code& error, tcp::socket socket) {
    must(error, "accepting");
    std::make_shared<EchoSession>(std::move(socket))->start();
    accept_next(acceptor);
  });
}

}  // namespace

Line::Line(asio::io_context& io, std::uint16_t port, const std::string& target,
           const std::string& subprotocol)
    : ws_(io), timer_(io) {
  ws_.next_layer().connect({asio::ip::address_v4::loopback(), port});
  ws_.next_layer().set_option(tcp::no_delay(true));
  ws_.set_option(websocket::stream_base::decorator([&](websocket::request_type& request) {
    if (!subprotocol.empty()) request.set(beast::http::field::sec_websocket_protocol, subprotocol);
  }));
  ws_.handshake("127.0.0.1:" + std::to_string(port), target);
  ws_.auto_fragment(false);
  ws_.text(true);
  read_next();
}

void Line::start_turns(Steady::time_point first, Steady::duration period) {
  next_turn_ = first;
  period_ = period;
  turning_ = true;
  wait_for_turn();
}

void Line::wait_for_turn() {
  timer_.expires_at(next_turn_);
  timer_.async_wait([this](const error_code& error) {
    if (error || !turning_) return;
    next_turn_ += period_;
    turn();
    wait_for_turn();
  });
}

void Line::send(std::string text) {
  queue_.push_back(std::move(text));
  if (queue_.size() == 1) write_next();
}

void Line::write_next() {
  ws_.async_write(asio::buffer(queue_.front()), [this](const error_code& error, std::size_t) {
    must(error, "sending");
    queue_.pop_front();
    if (!queue_.empty()) write_next();
  });
}

void Line::read_next() {
  ws_.async_read(buffer_, [this](const error_code& error, std::size_t) {
    must(error, "receiving");
    if (error) return;
    const auto bytes = buffer_.cdata();
    on_text({static_cast<const char*>(bytes.data()), bytes.size()});
    buffer_.consume(buffer_.size());
    read_next();
  });
}

int run_echo_server(const std::filesystem::path& port_file) {
  asio::io_context io{1};
  tcp::acceptor acceptor(io, {asio::ip::address_v4::loopback(), 0});
  {
    const std::filesystem::path draft = port_file.string() + ".tmp";
    std::ofstream(draft) << acceptor.local_endpoint().port() << '\n';
    std::filesystem::rename(draft, port_file);
  }
  accept_next(acceptor);
  io.run();
  return 0;
}

}  // namespace tagline::bench
