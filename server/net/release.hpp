// What leaves the core after one event, once its records are durable: the unit that travels from
// whoever had the core handle it, past the committer, to the network thread.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "protocol/messages.hpp"
#include "server/control/outcome.hpp"
#include "server/control/view.hpp"

namespace tagline::net {

/// The message of a cart's link that an event came from, so that it can be acknowledged when the
/// event has taken effect. `link` is the number of the connection; `seq` 0 is its greeting.
struct Origin {
  CartIx cart;
  std::uint64_t link{};
  protocol::Seq seq{};
};

/// A cart, and the chain that says why it stands; empty while it drives.
struct CartShown {
  control::CartView cart;
  std::vector<control::Reason> why;
};

/// A job, the chain that says why no cart has taken it up (empty once one has), and when it is
/// expected to come about, if anybody can tell.
struct JobShown {
  control::Job job;
  std::vector<control::Reason> why;
  std::optional<control::Expected> expected{};
};

/// Snapshots of what an event changed, or a part of everything that is live (core_view.hpp).
struct Views {
  std::vector<CartShown> carts;
  std::vector<JobShown> jobs;
  /// Loads at stations that have a capacity.
  std::vector<control::StationRecord> stations;
  std::optional<std::vector<control::Alarm>> alarms;
  std::optional<bool> all_stopped;
  /// What is out of service, and which zones are stopped.
  struct Closed {
    std::vector<control::DowntimeView> downtimes;
    std::vector<ZoneIx> zones;
  };
  std::optional<Closed> closed;
};

struct Release {
  Instant at;
  std::optional<Origin> origin;
  std::vector<control::Message> messages;
  std::vector<control::Answer> answers;
  Views views;
};

/// Takes events in for the core. Thread-safe; waits for nothing, but may handle the event, and
/// those that others post meanwhile, before it returns. What comes of them is never told within the
/// call.
class Inbox {
 public:
  virtual ~Inbox() = default;
  virtual void post(control::Event event, std::optional<Origin> origin) = 0;
  /// Looks up a job that the core no longer has; `done` is called on another thread, with nothing
  /// if there is no such job.
  virtual void find_job(control::JobId id,
                        std::function<void(std::optional<control::Job>)> done) = 0;
};

/// Where releases go. Called on any thread, one call at a time; posts nothing to the Inbox within a
/// call, which would come back to it.
class Outbox {
 public:
  virtual ~Outbox() = default;
  virtual void release(Release release) = 0;
  /// Nothing can be made durable any more; nothing more will be released.
  virtual void store_failed(const std::string& why) = 0;
  /// The core broke one of its own rules: every cart must stop and the process end.
  virtual void core_failed(const std::string& why) = 0;
};

}  // namespace tagline::net
