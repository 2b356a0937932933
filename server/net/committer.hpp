// Group commit: the thread that makes outcomes durable and only then lets them out, in order.
// Whatever waits while one group is being written goes together into the next.
#pragma once

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

#include "server/net/journal.hpp"
#include "server/net/precedence.hpp"
#include "server/net/release.hpp"

namespace tagline::net {

class Committer {
 public:
  /// Trace that no group takes along is written this long after it was made, at the latest.
  static constexpr std::chrono::milliseconds trace_delay{250};
  /// The same for events that nothing came of (most ticks): a quiet night costs no disk its life.
  static constexpr std::chrono::seconds quiet_delay{10};
  /// Journal::tidy() is called this often, unless told otherwise.
  static constexpr std::chrono::seconds default_tidy_every{5};

  /// Both must outlive it. Starts its thread.
  Committer(Journal& journal, Outbox& outbox,
            std::chrono::milliseconds tidy_every = default_tidy_every);
  ~Committer();
  Committer(const Committer&) = delete;
  Committer& operator=(const Committer&) = delete;

  /// Called by one thread only. An outcome with nothing to record goes straight out from the
  /// calling thread if no earlier one is still waiting; else it keeps its place in the order, but
  /// for messages that none of those waiting concern (precedence.hpp), which go straight out with
  /// the acknowledgement. Trace that is being written keeps nobody waiting.
  /// After a failed write everything is dropped.
  void submit(Instant now, Batch batch, Release release);

  /// Something to write that nothing waits for, after all that was submitted. The same thread.
  void note(Batch batch);

  /// Thread-safe. Makes changes of who may come in durable in one of the next groups; `done(true)`
  /// is then called on the committer's thread, or `done(false)` if they can't be stored. Without
  /// `done` they are written behind, like trace.
  void keep(std::vector<access::Change> changes, std::function<void(bool)> done = {});

  /// Thread-safe. Sums for the figures, written behind, like trace.
  void keep_sums(figures::Sums sums);

  /// Thread-safe. Looks something up between two groups, on the committer's thread.
  void look_up(std::function<void(Journal&)> look);

  /// Writes what waits and ends the thread. No submit may follow. Called again it writes what was
  /// kept without anybody waiting since.
  void stop();

 private:
  struct Keep {
    std::vector<access::Change> changes;
    std::function<void(bool)> done;
  };
  using Moment = std::chrono::steady_clock::time_point;
  void run();
  bool put_off(Batch batch);
  bool due_by(Moment moment);
  void tidy(Instant now);
  void let_out(Release release);
  bool write(Instant now, std::vector<Batch>& batches);

  Journal& journal_;
  Outbox& outbox_;
  /// Held during every call of the outbox, so that they come one at a time; taken before mutex_.
  std::mutex letting_out_;
  std::mutex mutex_;
  std::condition_variable wake_;
  // Under mutex_:
  std::vector<Batch> batches_;
  std::vector<Release> releases_;
  Precedence precedence_;
  KeptBack kept_back_;        // by releases_
  KeptBack kept_back_still_;  // by those that are being written or let out
  Batch late_;                // what is written behind
  std::optional<Moment> late_due_;
  std::vector<Keep> keeps_;
  std::vector<std::function<void(Journal&)>> lookups_;
  Instant now_{};
  bool busy_{false};  // releases are being written or let out
  bool failed_{false};
  bool stopping_{false};
  // The thread's own:
  std::chrono::milliseconds tidy_every_;
  Moment next_tidy_;
  std::thread thread_;
};

}  // namespace tagline::net
