// One virtual cart's link: see cart_link.hpp and protocol/README.md, "Connecting".
#include "server/sim/cart_link.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <utility>
#include <variant>

#include "protocol/codec.hpp"
#include "server/sim/cart_socket.hpp"

namespace tagline::sim {

namespace asio = boost::asio;
using asio::use_awaitable;
using namespace std::chrono_literals;

namespace {

constexpr auto welcome_patience = 10s;
constexpr std::chrono::seconds longest_wait = 10s;

}  // namespace

/// One connection; a new one for every attempt.
struct CartLink::Socket {
  Socket(asio::io_context& io, std::unique_ptr<CartSocket> its_line)
      : line{std::move(its_line)}, welcome_timer{io} {}
  std::unique_ptr<CartSocket> line;
  asio::steady_timer welcome_timer;
  std::deque<std::string> queue;
  bool open{false};
  bool writing{false};
};

CartLink::CartLink(asio::io_context& io, VirtualCart& cart, ServiceAddress service, Tls tls,
                   int pace, spdlog::logger& log)
    : io_{io},
      cart_{cart},
      service_{std::move(service)},
      tls_{std::move(tls)},
      pace_{pace},
      log_{log} {}

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
      const auto [code, reason] = socket_->line->close_frame();
      if (code != 0) {
        const bool refusal = code >= 4400 && code < 4500;
        wrong_key_ = code == static_cast<unsigned>(protocol::CloseCode::wrong_key);
        if (refusal) ++refused_;
        log_.log(refusal ? spdlog::level::err : spdlog::level::info,
                 "{}: the service closed the link: {} {}", cart_.id(), code, reason);
      } else {
        const auto* system = dynamic_cast<const boost::system::system_error*>(&error);
        log_.info("{}: no link to {}:{}: {}", cart_.id(), service_.host, service_.port,
                  system != nullptr ? system->code().message() : error.what());
      }
    }
    socket_->open = false;
    socket_->welcome_timer.cancel();
    socket_->line->cut();
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
  auto socket = std::make_shared<Socket>(io_, new_socket(io_, service_, tls_));
  socket_ = socket;
  co_await socket->line->open();
  socket->open = true;
  send(protocol::encode(protocol::CartMessage{cart_.on_connected()}));
  socket->welcome_timer.expires_after(welcome_patience);
  socket->welcome_timer.async_wait(
      [this, weak = std::weak_ptr{socket}](const boost::system::error_code& error) {
        const auto waiting = weak.lock();
        if (error || !waiting || !waiting->open) return;
        log_.warn("{}: no welcome in time", cart_.id());
        waiting->line->cut();
      });

  for (;;) {
    const std::string text = co_await socket->line->read();
    take(text);
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
  socket_->line->cut();
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
      co_await socket->line->write(text);
    }
  } catch (const std::exception&) {
    // The reading side sees the same loss and tells of it; unacknowledged messages are kept.
    socket->open = false;
  }
  socket->writing = false;
}

}  // namespace tagline::sim
