// POST /api/alarms/{id}/seen: a person says that they have seen an alarm. Kept on disk, so that a
// restart doesn't ask everybody again.
#pragma once

#include <chrono>
#include <functional>

#include "server/net/access_keeper.hpp"
#include "server/net/board_model.hpp"
#include "server/net/clock.hpp"
#include "server/net/http_message.hpp"
#include "server/net/visitor.hpp"

namespace tagline::net {

/// On the network thread.
class AlarmDesk {
 public:
  /// Real time after a start in which an alarm that comes up is taken for the one from before:
  /// carts that come back need some seconds, one out of range some more.
  static constexpr std::chrono::minutes remembers{2};

  struct Setup {
    BoardModel& model;
    AccessKeeper& keeper;
    const ServiceClock& clock;
    /// Runs a task on the network thread; called from others.
    std::function<void(std::function<void()>)> post;
    /// The boards should be told.
    std::function<void()> changed;
  };
  explicit AlarmDesk(Setup setup) : setup_(std::move(setup)) {}

  /// Answers when it is on disk who has seen it. Who was first stays; others get the same answer.
  void see(const Request& request, const Target& target, const Visitor& visitor, Respond respond);
  /// Lets the store forget marks of alarms that have ended; to be called when alarms have changed,
  /// and now and then.
  void tidy();

 private:
  Setup setup_;
};

}  // namespace tagline::net
