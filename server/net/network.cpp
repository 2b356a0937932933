// Event loop, listener and timers.
#include "server/net/network.hpp"

#include <sys/resource.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/post.hpp>
#include <csignal>

#include "server/net/session.hpp"

namespace tagline::net {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

/// One share of the sockets at a time, each five times a second or so: all at once they would keep
/// a read of a tag waiting.
constexpr std::chrono::milliseconds housekeeping_every{20};
constexpr std::size_t housekeeping_shares = 10;

/// Every cart and every viewer is a descriptor; the usual soft limit of 1,024 is no reason to
/// turn one away while the hard limit allows more.
void raise_descriptor_limit() {
  rlimit limit{};
  if (getrlimit(RLIMIT_NOFILE, &limit) == 0 && limit.rlim_cur < limit.rlim_max) {
    limit.rlim_cur = limit.rlim_max;
    setrlimit(RLIMIT_NOFILE, &limit);
  }
}

void accept_next(Network::State& state) {
  state.acceptor.async_accept([&state](const error_code& error, tcp::socket socket) {
    if (!state.acceptor.is_open() || error == asio::error::operation_aborted) return;
    if (error) {
      // Out of descriptors, most likely: let some go before trying again.
      state.accept_pause.expires_after(std::chrono::milliseconds(100));
      state.accept_pause.async_wait([&state](const error_code& stopped) {
        if (!stopped) accept_next(state);
      });
      return;
    }
    error_code late;  // a socket that is gone already is found out when it is read
    if (auto place = state.crowd.enter(socket.remote_endpoint(late).address().to_string())) {
      socket.set_option(tcp::no_delay(true), late);  // only costs time, so it may fail
      asio::co_spawn(state.io, serve_http(state, std::move(socket), std::move(place)),
                     asio::detached);
    }
    accept_next(state);
  });
}

void repeat(asio::steady_timer& timer, std::chrono::milliseconds interval,
            const std::shared_ptr<std::function<void()>>& task) {
  timer.expires_after(interval);
  timer.async_wait([&timer, interval, task](const error_code& error) {
    if (error) return;
    (*task)();
    repeat(timer, interval, task);
  });
}

}  // namespace

Network::Network(NetLimits limits) : state_(std::make_unique<State>(limits)) {
  raise_descriptor_limit();
}

Network::~Network() = default;

std::uint16_t Network::listen(const std::string& address, std::uint16_t port) {
  error_code error;
  const auto ip = asio::ip::make_address(address, error);
  if (error)
    throw ListenError("can't listen on \"" + address +
                      "\": that is no IP address; give one, e.g. 127.0.0.1");
  const tcp::endpoint endpoint(ip, port);
  const auto where = address + " port " + std::to_string(port);
  tcp::acceptor& acceptor = state_->acceptor;
  acceptor.open(endpoint.protocol(), error);
  if (!error) acceptor.set_option(asio::socket_base::reuse_address(true), error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error == asio::error::address_in_use)
    throw ListenError("can't listen on " + where +
                      ": another program uses that port; end it, or choose another with --port");
  if (error)
    throw ListenError("can't listen on " + where + ": " + error.message() +
                      "; choose another address with --listen or port with --port");
  return acceptor.local_endpoint().port();
}

void Network::encrypt(const TlsFiles& files) { state_->tls = load_tls(files); }

void Network::run(HttpHandler& handler) {
  state_->handler = &handler;
  if (state_->acceptor.is_open()) accept_next(*state_);
  every(housekeeping_every, [this, last = static_cast<Swept*>(nullptr)]() mutable {
    const auto now = Steady::now();
    const auto& sockets = state_->sockets;  // a sweep may end some
    for (std::size_t k = sockets.size() / housekeeping_shares + 1; k > 0; --k) {
      const auto next = sockets.upper_bound(last);
      last = next == sockets.end() ? nullptr : *next;
      if (last == nullptr) break;
      last->sweep(now);
    }
  });
  state_->io.run();
}

void Network::post(std::function<void()> task) { asio::post(state_->io, std::move(task)); }

void Network::after(std::chrono::milliseconds delay, std::function<void()> task) {
  auto timer = std::make_shared<asio::steady_timer>(state_->io, delay);
  timer->async_wait([timer, task = std::move(task)](const error_code& error) {
    if (!error) task();
  });
}

void Network::every(std::chrono::milliseconds interval, std::function<void()> task) {
  state_->timers.emplace_back(state_->io);
  repeat(state_->timers.back(), interval, std::make_shared<std::function<void()>>(std::move(task)));
}

void Network::on_signal(std::function<void(int)> task) {
  state_->signals.add(SIGINT);
  state_->signals.add(SIGTERM);
  state_->signals.async_wait([task = std::move(task)](const error_code& error, int signal) {
    if (!error) task(signal);
  });
}

void Network::stop_listening() {
  error_code ignored;
  state_->acceptor.close(ignored);
  state_->accept_pause.cancel();
}

void Network::finish_requests() {
  state_->finishing = true;
  const auto idle = state_->idle;
  for (Idle* session : idle)
    if (state_->idle.contains(session)) session->cut();
}

bool Network::quiet() const { return state_->crowd.size() == 0; }

void Network::stop() { state_->io.stop(); }

}  // namespace tagline::net
