// One virtual cart's WebSocket: see cart_link.hpp and protocol/README.md, "Connecting".
#include "server/sim/cart_link.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/websocket.hpp>
#include <utility>
#include <variant>

#include "protocol/codec.hpp"

namespace tagline::sim {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace websocket = beast::websocket;
using asio::use_awaitable;
using asio::ip::tcp;
using namespace std::chrono_literals;

namespace {

constexpr auto connect_patience = 5s;
constexpr auto welcome_patience = 10s;
constexpr auto silence = 15s;
constexpr std::chrono::seconds longest_wait = 10s;

std::string told(const websocket::close_reason& why) {
  return std::to_string(why.code) + " " + std::string{why.reason.data(), why.reason.size()};
}

}  // namespace

/// One connection; a new one for every attempt.
struct CartLink::Socket {
  explicit Socket(asio::io_context& io) : stream{io}, resolver{io}, welcome_timer{io} {}
  websocket::stream<beast::tcp_stream> stream;
  tcp::resolver resolver;
  asio::steady_timer welcome_timer;
  std::deque<std::string> queue;
  bool open{false};
  bool writing{false};
};

CartLink::CartLink(asio::io_context& io, VirtualCart& cart, ServiceAddress service, int pace,
                   spdlog::logger& log)
    : io_{io}, cart_{cart}, service_{std::move(service)}, pace_{pace}, log_{log} {}

CartLink::~CartLink() = default;

void CartLink::start() { asio::co_spawn(io_, keep_connected(), asio::detached); }

std::chrono::milliseconds CartLink::pause() const {
  return std::max<std::chrono::milliseconds>(100ms, std::chrono::milliseconds{wait_} / pace_);
}

asio::awaitable<void> CartLink::keep_connected() {
  asio::steady_timer timer{io_};
  for (;;) {
    wrong_key_ = false;
    try {
      co_await one_connection();
    } catch (const std::exception& error) {
      const auto& why = socket_->stream.reason();
      if (why.code != websocket::close_code::none) {
        const auto code = static_cast<unsigned>(why.code);
        const bool refusal = code >= 4400 && code < 4500;
        wrong_key_ = code == static_cast<unsigned>(protocol::CloseCode::wrong_key);
        if (refusal) ++refused_;
        log_.log(refusal ? spdlog::level::err : spdlog::level::info,
                 "{}: the service closed the link: {}", cart_.id(), told(why));
      } else {
        const auto* system = dynamic_cast<const boost::system::system_error*>(&error);
        log_.info("{}: no link to {}:{}: {}", cart_.id(), service_.host, service_.port,
                  system != nullptr ? system->code().message() : error.what());
      }
    }
    socket_->open = false;
    socket_->welcome_timer.cancel();
    beast::get_lowest_layer(socket_->stream).close();
    if (welcomed_) wait_ = 1s;
    welcomed_ = false;
    cart_.on_disconnected();
    if (wrong_key_) wait_ = longest_wait;
    timer.expires_at(std::max(std::chrono::steady_clock::now() + pause(), radio_back_));
    wait_ = std::min(wait_ * 2, longest_wait);
    co_await timer.async_wait(use_awaitable);
  }
}

asio::awaitable<void> CartLink::one_connection() {
  auto socket = std::make_shared<Socket>(io_);
  socket_ = socket;
  auto& stream = socket->stream;
  beast::get_lowest_layer(stream).expires_after(connect_patience);
  const auto found =
      co_await socket->resolver.async_resolve(service_.host, service_.port, use_awaitable);
  co_await beast::get_lowest_layer(stream).async_connect(found, use_awaitable);
  beast::get_lowest_layer(stream).socket().set_option(tcp::no_delay{true});
  beast::get_lowest_layer(stream).expires_never();

  websocket::stream_base::timeout timeout{};
  timeout.handshake_timeout = connect_patience;
  timeout.idle_timeout = silence;
  timeout.keep_alive_pings = true;
  stream.set_option(timeout);
  stream.set_option(websocket::stream_base::decorator([](websocket::request_type& request) {
    request.set(beast::http::field::sec_websocket_protocol, protocol::cart_subprotocol);
  }));
  stream.read_message_max(protocol::max_frame_bytes);
  websocket::response_type response;
  co_await stream.async_handshake(response, service_.host + ":" + service_.port, service_.target,
                                  use_awaitable);
  if (response[beast::http::field::sec_websocket_protocol] != protocol::cart_subprotocol) {
    throw std::runtime_error("what answers there doesn't speak " +
                             std::string{protocol::cart_subprotocol});
  }
  stream.text(true);
  socket->open = true;
  send(protocol::encode(protocol::CartMessage{cart_.on_connected()}));
  socket->welcome_timer.expires_after(welcome_patience);
  socket->welcome_timer.async_wait([this, weak = std::weak_ptr{socket}](beast::error_code error) {
    const auto waiting = weak.lock();
    if (error || !waiting || !waiting->open) return;
    log_.warn("{}: no welcome in time", cart_.id());
    beast::get_lowest_layer(waiting->stream).cancel();
  });

  beast::flat_buffer buffer;
  for (;;) {
    co_await stream.async_read(buffer, use_awaitable);
    if (!stream.got_text()) throw std::runtime_error("the service sent a binary frame");
    take(beast::buffers_to_string(buffer.data()));
    buffer.consume(buffer.size());
  }
}

void CartLink::take(const std::string& text) {
  const auto decoded = protocol::decode_service_message(text);
  if (const auto* error = std::get_if<protocol::DecodeError>(&decoded)) {
    // A frame counts whole or not at all; the service would have to be mended.
    throw std::runtime_error("the service sent what is no message: " +
                             protocol::close_reason(*error));
  }
  const auto& message = std::get<protocol::ServiceMessage>(decoded);
  if (std::holds_alternative<protocol::Welcome>(message)) {
    socket_->welcome_timer.cancel();
    welcomed_ = true;
    wait_ = 1s;
    log_.info("{}: connected", cart_.id());
  }
  cart_.receive(message);
  flush();
}

void CartLink::flush() {
  if (!welcomed_) return;
  for (const protocol::CartMessage& message : cart_.take_messages()) {
    send(protocol::encode(message));
  }
}

void CartLink::drop(std::chrono::milliseconds how_long) {
  radio_back_ = std::chrono::steady_clock::now() + how_long;
  if (!socket_ || !socket_->open) return;
  beast::get_lowest_layer(socket_->stream).close();
}

void CartLink::send(std::string text) {
  socket_->queue.push_back(std::move(text));
  if (socket_->writing) return;
  socket_->writing = true;
  asio::co_spawn(io_, write_queue(socket_), asio::detached);
}

asio::awaitable<void> CartLink::write_queue(std::shared_ptr<Socket> socket) {
  try {
    while (!socket->queue.empty() && socket->open) {
      const std::string text = std::move(socket->queue.front());
      socket->queue.pop_front();
      co_await socket->stream.async_write(asio::buffer(text), use_awaitable);
    }
  } catch (const std::exception&) {
    // The reading side sees the same loss and tells of it; unacknowledged messages are kept.
    socket->open = false;
  }
  socket->writing = false;
}

}  // namespace tagline::sim
