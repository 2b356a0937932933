// Many virtual carts, one world, one thread: see virtual_carts.hpp.
#include "server/sim/virtual_carts.hpp"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <deque>
#include <fstream>
#include <functional>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <random>

#include "server/sim/cart_link.hpp"
#include "server/sim/cart_socket.hpp"
#include "server/sim/virtual_cart.hpp"
#include "server/sim/world.hpp"

namespace tagline::sim {
namespace {

namespace asio = boost::asio;
using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;

/// More of the world than this is not made up for in one go; it is counted as slipped instead.
constexpr auto longest_burst = 500ms;
constexpr auto report_every = 1s;
/// Orders of the person who stands by.
constexpr std::pair<const char*, World::Push> pushes[] = {{"ahead", World::Push::ahead},
                                                          {"behind", World::Push::behind}};
/// How long a dropped link is gone, s of the world.
constexpr double drop_least_s = 1, drop_most_s = 30;

/// A text that no earlier power-up had.
std::string new_boot() {
  std::random_device device;
  char text[20];
  std::snprintf(text, sizeof text, "v%08x%08x", static_cast<unsigned>(device()),
                static_cast<unsigned>(device()));
  return text;
}

class Run {
 public:
  explicit Run(const VirtualCartOptions& options)
      : options_{options},
        log_{"carts", std::make_shared<spdlog::sinks::stderr_sink_st>()},
        world_{*options.ways,
               {.seed = options.seed,
                .miss_rate = options.miss_rate,
                .stalls_per_hour = options.stalls_per_hour,
                .vary_carts = true,
                .reader_window = WorldOptions{}.reader_window}},
        drops_{options.seed * 7'919 + 11},
        tick_timer_{io_},
        signals_{io_} {
    CartLink::Tls tls;
    if (options.service.tls) tls = trusting(options.tls_root);
    for (const VirtualCartSetup& setup : options.carts) {
      const CartIx ix = world_.add_cart(setup.id, setup.start);
      carts_.push_back(
          std::make_unique<VirtualCart>(world_, ix, CartIdentity{setup.id, setup.key, new_boot()}));
      links_.push_back(std::make_unique<CartLink>(io_, *carts_.back(), options.service, tls,
                                                  options.pace, log_));
    }
  }

  void run() {
    write_report();
    signals_.add(SIGINT);
    signals_.add(SIGTERM);
    signals_.async_wait([this](const boost::system::error_code& error, int) {
      if (!error) io_.stop();
    });
    for (const auto& link : links_) link->start();
    started_ = last_ = Steady::now();
    next_report_ = started_ + report_every;
    next_print_ = started_ + options_.print_every;
    if (options_.person) {
      orders_.assign(dup(STDIN_FILENO));
      take_orders();
    }
    tick();
    io_.run();
    write_report();
    std::cout << report() << std::endl;
  }

 private:
  void tick() {
    if (options_.stop.stop_requested()) return io_.stop();
    const auto now = Steady::now();
    auto due = (now - last_) * options_.pace + left_over_;
    last_ = now;
    const auto most = std::chrono::duration_cast<Steady::duration>(longest_burst) * options_.pace;
    if (due > most) {
      slipped_ += due - most;
      due = most;
    }
    for (; due >= step_time; due -= step_time) {
      world_.step();
      for (std::size_t i = 0; i < carts_.size(); ++i) {
        carts_[i]->step();
        maybe_drop(*links_[i]);
        links_[i]->flush();
      }
    }
    left_over_ = due;
    if (now >= next_report_) {
      next_report_ = now + report_every;
      write_report();
    }
    if (options_.print_every > 0s && now >= next_print_) {
      next_print_ = now + options_.print_every;
      std::cout << report() << std::endl;
    }
    // Often enough that a message waits for less than a step or two of the world.
    tick_timer_.expires_after(options_.pace > 5 ? 2ms : 10ms);
    tick_timer_.async_wait([this](const boost::system::error_code& error) {
      if (!error) tick();
    });
  }

  void take_orders() {
    asio::async_read_until(orders_, asio::dynamic_buffer(order_), '\n',
                           [this](const boost::system::error_code& error, std::size_t size) {
                             if (error) return;  // nobody stands by any more
                             obey(order_.substr(0, size - 1));
                             order_.erase(0, size);
                             take_orders();
                           });
  }

  void obey(const std::string& order) {
    for (std::size_t i = 0; i < carts_.size(); ++i) {
      for (const auto& [word, where] : pushes) {
        if (order != word + (" " + carts_[i]->id())) continue;
        if (const auto pose = world_.pushed(carts_[i]->cart(), where))
          world_.put_down(carts_[i]->cart(), *pose);
        return write_report();
      }
    }
    log_.warn("no such order: {}", order);
  }

  /// The tags the carts stand between.
  [[nodiscard]] std::string stands() const {
    const floor::Ways& ways = world_.ways();
    nlohmann::json all = nlohmann::json::object();
    for (const auto& cart : carts_) {
      nlohmann::json& one = all[cart->id()] = nlohmann::json::object();
      for (const auto& [word, where] : pushes)
        if (const auto pose = world_.pushed(cart->cart(), where))
          one[word] = {ways.floor()[ways[*pose].at].id, ways.floor()[ways.came_from(*pose)].id};
    }
    return all.dump();
  }

  void maybe_drop(CartLink& link) {
    if (options_.drops_per_hour <= 0) return;
    constexpr double step_s = static_cast<double>(step_time.count()) / 1000;
    if (!drops_.chance(options_.drops_per_hour * step_s / 3600)) return;
    const double seconds = drops_.between(drop_least_s, drop_most_s) / options_.pace;
    link.drop(std::chrono::milliseconds{std::llround(seconds * 1000)});
    ++dropped_;
  }

  [[nodiscard]] std::string handled_at() const {
    std::string text;
    for (const auto& [point, here] : world_.handled_at())
      text += (text.empty() ? "\"" : ",\"") + world_.ways().floor()[point].id + "\":[" +
              std::to_string(here.loaded) + "," + std::to_string(here.unloaded) + "]";
    return "{" + text + "}";
  }

  [[nodiscard]] std::string report() const {
    std::size_t connected = 0;
    std::uint64_t refused = 0;
    for (const auto& link : links_) {
      if (link->connected()) ++connected;
      refused += link->refused();
    }
    const Referee& referee = world_.referee();
    char gap[32] = "null";
    if (std::isfinite(referee.least_gap())) {
      std::snprintf(gap, sizeof gap, "%.1f", referee.least_gap());
    }
    char text[1200];
    // The texts are made of cart ids and figures: nothing in them needs escaping.
    std::snprintf(text, sizeof text,
                  "{\"carts\":%zu,\"connected\":%zu,\"seconds\":%.2f,\"body_contacts\":%llu,"
                  "\"first_contact\":\"%s\",\"least_gap_mm\":%s,\"least_gap_at\":\"%s\","
                  "\"distance_m\":%.2f,\"handled\":%llu,\"handled_amiss\":%llu,\"dropped\":%llu,"
                  "\"refused\":%llu,\"slipped_s\":%.2f,\"seed\":%llu,\"pace\":%d,",
                  carts_.size(), connected, static_cast<double>(world_.now().count()) / 1000,
                  static_cast<unsigned long long>(referee.contacts()),
                  referee.first_contact().c_str(), gap, referee.least_gap_at().c_str(),
                  world_.distance() / 1000, static_cast<unsigned long long>(world_.handled()),
                  static_cast<unsigned long long>(world_.handled_amiss()),
                  static_cast<unsigned long long>(dropped_),
                  static_cast<unsigned long long>(refused),
                  std::chrono::duration<double>(slipped_).count(),
                  static_cast<unsigned long long>(options_.seed), options_.pace);
    return text + ("\"stands\":" + stands() + ",\"handled_at\":" + handled_at()) + "}";
  }

  void write_report() const {
    if (options_.report.empty()) return;
    std::filesystem::path part = options_.report;
    part += ".part";
    {
      std::ofstream out{part, std::ios::trunc};
      out << report() << "\n";
      if (!out.flush()) {
        throw std::runtime_error("can't write the report to " + part.string() +
                                 "; name a file in a folder that can be written");
      }
    }
    std::filesystem::rename(part, options_.report);
  }

  const VirtualCartOptions& options_;
  spdlog::logger log_;
  asio::io_context io_{1};
  World world_;
  std::vector<std::unique_ptr<VirtualCart>> carts_;
  std::vector<std::unique_ptr<CartLink>> links_;
  Random drops_;
  std::uint64_t dropped_{0};
  asio::steady_timer tick_timer_;
  asio::signal_set signals_;
  asio::posix::stream_descriptor orders_{io_};
  std::string order_;
  Steady::time_point started_, last_, next_report_, next_print_;
  Steady::duration left_over_{}, slipped_{};
};

bool sane(const VirtualCartOptions& options) {
  return options.ways != nullptr && !options.carts.empty() && options.pace >= 1 &&
         options.pace <= 1000 && options.miss_rate >= 0 && options.miss_rate <= 1 &&
         options.stalls_per_hour >= 0 && options.stalls_per_hour <= 3600 &&
         options.drops_per_hour >= 0 && options.drops_per_hour <= 3600 && options.print_every >= 0s;
}

}  // namespace

std::optional<ServiceAddress> parse_service_url(std::string_view url) {
  constexpr std::string_view plain = "ws://", secure = "wss://";
  const bool tls = url.starts_with(secure);
  if (!tls && !url.starts_with(plain)) return std::nullopt;
  url.remove_prefix((tls ? secure : plain).size());
  ServiceAddress address{"", tls ? "443" : "80", "/cart", tls};
  const auto slash = url.find('/');
  if (slash != std::string_view::npos) {
    if (slash + 1 < url.size()) address.target = url.substr(slash);
    url = url.substr(0, slash);
  }
  const auto colon = url.rfind(':');
  if (colon != std::string_view::npos) {
    address.port = url.substr(colon + 1);
    url = url.substr(0, colon);
    const bool digits = !address.port.empty() && address.port.size() <= 5 &&
                        address.port.find_first_not_of("0123456789") == std::string::npos;
    if (!digits || std::stoi(address.port) < 1 || std::stoi(address.port) > 65535) {
      return std::nullopt;
    }
  }
  if (url.empty() || url.find_first_of(" \t\r\n@?#:") != std::string_view::npos) {
    return std::nullopt;
  }
  address.host = url;
  return address;
}

int run_virtual_carts(const VirtualCartOptions& options) {
  if (!sane(options)) {
    throw std::invalid_argument(
        "virtual carts: at least one cart, pace 1 to 1000, miss rate 0 to 1, stalls and drops 0 "
        "to 3600 an hour");
  }
  Run{options}.run();
  return 0;
}

}  // namespace tagline::sim
