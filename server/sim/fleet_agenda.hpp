// What time it is in a fast run, and what is due when. What is due at one moment happens in the
// order in which it was set down, so that a run is the same every time.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <queue>
#include <tuple>
#include <vector>

namespace tagline::sim {

class FleetAgenda {
 public:
  static constexpr double never = std::numeric_limits<double>::infinity();

  enum class What {
    cart,       // something of the cart's own
    tick,       // the service's clock
    job,        // somebody asks for a job
    block,      // something gets in the cart's way
    drop,       // its link is lost
    link_gone,  // the service would notice that now
    link_back,
    resend,  // after the welcome: what went unsent
    report,  // the cart's sign of life
    visit,   // a person comes to the cart
    take_load,
    closing,  // something goes out of service, or comes back
    audit
  };
  struct Due {
    double at{};
    std::uint64_t order{};
    What what{};
    /// Of take_load it is the station.
    std::uint32_t cart{};
    /// Of the link's events: the connection they are about.
    std::uint32_t epoch{};
    bool operator>(const Due& other) const {
      return std::tie(at, order) > std::tie(other.at, other.order);
    }
  };

  /// Simulated seconds since the run began.
  [[nodiscard]] double now() const { return now_; }
  void move_on_to(double now) { now_ = now; }

  void at(double when, What what, std::uint32_t cart = 0, std::uint32_t epoch = 0) {
    queue_.push({when, ++order_, what, cart, epoch});
  }
  /// When the next thing is due; never if there is none.
  [[nodiscard]] double next() const { return queue_.empty() ? never : queue_.top().at; }
  /// The next thing, which is taken off; there must be one.
  Due take() {
    const Due due = queue_.top();
    queue_.pop();
    return due;
  }

 private:
  double now_{0};
  std::uint64_t order_{0};
  std::priority_queue<Due, std::vector<Due>, std::greater<>> queue_;
};

}  // namespace tagline::sim
