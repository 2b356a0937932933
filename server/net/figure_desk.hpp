// GET /api/figures: how the works ran in a stretch of time. The record is read on a thread of its
// own, behind everything that carts and boards wait for.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>

#include "server/net/clock.hpp"
#include "server/net/figure_source.hpp"
#include "server/net/http_message.hpp"

namespace tagline::net {

class FigureDesk {
 public:
  /// Readings that may wait; others are asked to come again (429).
  static constexpr std::size_t most_waiting = 8;

  struct Setup {
    /// Nothing: there is no record to be read (503).
    FigureSource* source{};
    const ServiceClock& clock;
    /// Runs a task on the network thread; called from others.
    std::function<void(std::function<void()>)> post;
  };
  explicit FigureDesk(Setup setup);
  ~FigureDesk();
  FigureDesk(const FigureDesk&) = delete;
  FigureDesk& operator=(const FigureDesk&) = delete;

  /// On the network thread.
  void figures(const Request& request, const Target& target, Respond respond);

 private:
  struct Wish {
    figures::Range range;
    std::string table;  // "" for all as JSON
    Respond respond;
  };
  void run();
  [[nodiscard]] Response answer(const Wish& wish) const;

  Setup setup_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Wish> wishes_;  // under mutex_
  bool stopping_{false};     // under mutex_
  std::thread thread_;
};

}  // namespace tagline::net
