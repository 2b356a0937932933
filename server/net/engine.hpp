// The one writer: nobody but the engine calls the core, one event after the other. Events go in by
// a queue, outcomes leave by the committer. A thread that posts while the core rests handles its
// event itself: waking another thread for it, and being woken again with what came of it, would
// take ten times as long as the event. A thread of the engine's own does what time brings.
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
#include "server/net/figure_source.hpp"
#include "server/net/release.hpp"
#include "server/net/views.hpp"

namespace tagline::net {

class Engine : public Inbox, public AccessKeeper, public FigureKeeper {
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
  void keep_sums(figures::Sums sums) override { committer_.keep_sums(std::move(sums)); }
  /// Handles what has been posted, writes what waits, ends both threads.
  void stop();

 private:
  struct Item {
    control::Event event;
    std::optional<Origin> origin;
  };
  void run();
  /// Handles what is queued until nothing is; `lock` holds mutex_ before and after. Only the thread
  /// that has set core_taken_ calls it, and anything else that uses the core.
  void handle_queued(std::unique_lock<std::mutex>& lock);
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
  // Whoever has taken the core:
  Instant now_{};
  bool failed_{false};
  std::vector<Item> items_;
  // Under mutex_:
  std::mutex mutex_;
  std::condition_variable wake_, core_free_;  // both for the engine's thread
  std::vector<Item> queue_;
  bool core_taken_{true};  // until the thread runs
  bool stopping_{false};
  std::thread thread_;
};

}  // namespace tagline::net
