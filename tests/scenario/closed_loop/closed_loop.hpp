// The real core against carts with bodies, in one process and without sockets: the carts' own
// logic, the physical world and its referee, the wire's translation, and a link that can delay and
// drop. Deterministic for a seed.
#pragma once

#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/net/wire_translation.hpp"
#include "server/sim/virtual_cart.hpp"

namespace tagline::test {

class ClosedLoop {
 public:
  struct Faults {
    double miss_rate{0};
    double stalls_per_hour{0};
    double drops_per_hour{0};
    Duration latency{100};
  };

  /// Sees every event and what came of it.
  using Tap = std::function<void(Instant, const control::Event&, const control::Outcome&)>;

  static std::vector<std::string> cart_names(std::size_t carts) {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < carts; ++i) names.push_back("cart-" + std::to_string(i + 1));
    return names;
  }
  static constexpr Instant begins{std::chrono::seconds{1'800'000'000}};

  ClosedLoop(const floor::Track& track, std::size_t carts, std::uint64_t seed, Faults faults,
             Tap tap = {})
      : track_(track),
        faults_(faults),
        tap_(std::move(tap)),
        random_(seed ^ 0x5eedULL),
        world_(track.ways(), {.seed = seed,
                              .miss_rate = faults.miss_rate,
                              .stalls_per_hour = faults.stalls_per_hour}) {
    const std::vector<std::string> names = cart_names(carts);
    core_ =
        std::make_unique<control::Core>(track, names, control::Policy{}, control::Restored{}, now_);
    const auto& floor = track.floor();
    for (std::uint32_t p = 0; p < floor.points.size() && links_.size() < carts; ++p) {
      if (!floor.points[p].siding) continue;
      const PoseIx pose = track.ways().poses_at({p}).front();
      const CartIx cart = world_.add_cart(names[links_.size()], pose);
      links_.push_back({sim::VirtualCart(world_, cart, {names[links_.size()], "key", "boot"}), {}});
      homes_.push_back(floor.points[p].id);
    }
    if (links_.size() < carts) throw std::runtime_error("more carts than sidings");
    for (std::uint32_t i = 0; i < carts; ++i) connect({i});
    for (std::uint32_t i = 0; i < carts; ++i) act(control::AskPlaceCart{1, {i}, homes_[i], ""});
  }

  control::Core& core() { return *core_; }
  sim::World& world() { return world_; }
  sim::VirtualCart& cart(CartIx cart) { return links_[cart.value].cart; }
  std::uint64_t pick(std::uint64_t n) { return random_() % n; }

  void ask_job(std::size_t from, std::size_t to) {
    act(control::AskJob{.request = 1,
                        .from = track_.floor().stations[from].id,
                        .to = track_.floor().stations[to].id});
  }
  void act(const control::Event& event) {
    const control::Outcome outcome = core_->handle(now_, event);
    if (tap_) tap_(now_, event, outcome);
    for (const auto& message : outcome.messages) {
      Link& link = links_[net::addressee(message).value];
      if (link.up)
        link.to_cart.push_back({now_ + faults_.latency, net::to_wire(track_.floor(), message)});
    }
  }

  /// 20 ms pass.
  void step() {
    now_ += sim::step_time;
    world_.step();
    for (std::uint32_t i = 0; i < links_.size(); ++i) {
      Link& link = links_[i];
      link.cart.step();
      if (link.up) {
        for (auto& message : link.cart.take_messages()) {
          link.to_service.push_back({now_ + faults_.latency, std::move(message)});
        }
        maybe_drop({i});
      } else if (now_ >= link.back_at) {
        connect({i});
      }
      while (link.up && !link.to_cart.empty() && link.to_cart.front().due <= now_) {
        link.cart.receive(link.to_cart.front().message);
        link.to_cart.pop_front();
      }
      while (link.up && !link.to_service.empty() && link.to_service.front().due <= now_) {
        const auto message = std::move(link.to_service.front().message);
        link.to_service.pop_front();
        const protocol::Seq seq = net::seq_of(message);
        if (seq > link.taken) {
          link.taken = seq;
          act(net::to_event({i}, message));
        }
        link.cart.receive(protocol::Ack{seq});
      }
    }
    if ((now_ - Instant{}).count() % 1000 == 0) act(control::Tick{});
  }
  void run(Duration time) {
    for (Duration passed{0}; passed < time; passed += sim::step_time) step();
  }
  [[nodiscard]] std::size_t open_jobs() const {
    std::size_t n = 0;
    for (const auto* job : core_->jobs()) n += control::is_final(job->state) ? 0 : 1;
    return n;
  }
  [[nodiscard]] Duration elapsed() const { return world_.now(); }
  /// Each cart's mode and trouble, for a failed test to show.
  [[nodiscard]] std::string describe() const {
    std::string text;
    for (std::uint32_t i = 0; i < links_.size(); ++i) {
      const auto view = core_->cart({i});
      text += "\n  " + core_->cart_name({i}) + " " + std::string(control::name_of(view.mode)) +
              " fault " + std::string(control::name_of(view.fault)) + " battery " +
              std::to_string(view.battery) + " " + view.trouble + " at";
      for (std::size_t s = 0; s < view.path.size(); ++s) {
        text += " " + track_.floor()[track_.ways()[view.path[s].pose].at].id +
                (s == view.authority ? "|" : "");
      }
      if (view.waits_for) text += " waits for " + track_.name(view.waits_for->piece);
    }
    for (const auto& alarm : core_->alarms()) text += "\n  alarm: " + alarm.text;
    return text;
  }

 private:
  template <class M>
  struct Due {
    Instant due;
    M message;
  };
  struct Link {
    sim::VirtualCart cart;
    std::deque<Due<protocol::ServiceMessage>> to_cart{};
    std::deque<Due<protocol::CartMessage>> to_service{};
    bool up{false};
    bool greeted{false};
    Instant back_at{};
    protocol::Seq taken{0};
  };

  void connect(CartIx cart) {
    Link& link = links_[cart.value];
    const protocol::Hello hello = link.cart.on_connected();
    link.up = true;
    const bool rebooted = net::has_rebooted(
        link.greeted ? std::optional<std::string>(hello.boot) : std::nullopt, hello);
    link.greeted = true;
    link.to_cart.push_back({now_, protocol::Welcome{link.taken, 0}});
    act(net::to_event(cart, hello, rebooted));
  }
  void maybe_drop(CartIx cart) {
    if (faults_.drops_per_hour <= 0) return;
    const auto steps_per_hour = 3'600'000.0 / static_cast<double>(sim::step_time.count());
    if (static_cast<double>(pick(1'000'000)) >= 1e6 * faults_.drops_per_hour / steps_per_hour) {
      return;
    }
    Link& link = links_[cart.value];
    link.up = false;
    link.back_at = now_ + std::chrono::seconds{1 + pick(30)};
    link.to_cart.clear();
    link.to_service.clear();
    link.cart.on_disconnected();
    act(control::CartLinkLost{cart});
  }

  const floor::Track& track_;
  Faults faults_;
  Tap tap_;
  std::mt19937_64 random_;
  Instant now_{begins};
  sim::World world_;
  std::unique_ptr<control::Core> core_;
  std::deque<Link> links_;
  std::vector<std::string> homes_;
};

}  // namespace tagline::test
