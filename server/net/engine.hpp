// The one writer: the thread that owns the core. Events go in by a queue, outcomes leave by the
// committer. Nothing else ever calls the core.
#pragma once

#include <atomic>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

#include "server/control/core.hpp"
#include "server/net/access_keeper.hpp"
#include "server/net/clock.hpp"
#include "server/net/committer.hpp"
#include "server/net/core_view.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

class Engine : public Inbox, public AccessKeeper {
 public:
  /// How an event is decided.
  using Decide = std::function<control::Outcome(Instant, const control::Event&)>;

  /// All must outlive it. Nothing runs before start(). `station_count` is the floor's; `decide` is
  /// the core's handle() unless a test puts something between.
  Engine(control::Core& core, std::size_t station_count, Journal& journal,
         const ServiceClock& clock, Outbox& outbox, Decide decide = {});
  ~Engine() override;

  /// Releases a view of everything before it returns, then begins to take events.
  void start();
  void post(control::Event event, std::optional<Origin> origin) override;
  void find_job(control::JobId id, std::function<void(std::optional<control::Job>)> done) override;
  void keep(std::vector<access::Change> changes, std::function<void(bool)> done) override;
  void read_audit(std::size_t limit, std::optional<std::uint64_t> before,
                  std::function<void(Entries)> done) override;
  /// Handles what has been posted, writes what waits, ends both threads.
  void stop();

 private:
  struct Item {
    control::Event event;
    std::optional<Origin> origin;
  };
  void run();
  void handle(control::Event event, const std::optional<Origin>& origin);
  /// Tells the next part of what is live (core_view.hpp).
  void show_part();
  void end_run(std::string how);
  control::Core& core_;
  CoreView view_;
  Decide decide_;
  const ServiceClock& clock_;
  Outbox& outbox_;
  Committer committer_;
  Instant now_{};
  std::mutex mutex_;
  std::condition_variable wake_;
  std::vector<Item> queue_;  // under mutex_
  bool stopping_{false};     // under mutex_
  bool failed_{false};       // the engine's thread only
  std::thread thread_;
};

}  // namespace tagline::net
