// What the live service asks of the thing that remembers: a port, so that this folder need not
// know of SQL and a test can make the disk fail. server/app puts server/store behind it.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "server/access/change.hpp"
#include "server/control/outcome.hpp"
#include "server/figures/sums.hpp"
#include "server/replay/block.hpp"

namespace tagline::net {

/// Trace of one outcome with the moment it was decided.
struct TimedTrace {
  Instant at;
  control::Trace what;
};

/// What one outcome wants remembered.
struct Batch {
  std::vector<control::Record> records;
  std::vector<TimedTrace> trace;
  /// The event itself, so that the run can be replayed; later than the records, like the trace.
  std::vector<replay::TimedEvent> events{};
  /// The run has ended: how, in a few words.
  std::optional<std::string> ending{};
  /// Of who may come in, and what people did.
  std::vector<access::Change> access{};
  /// For the figures over time.
  figures::Sums sums{};
};

/// Used by one thread at a time (the committer's).
class Journal {
 public:
  virtual ~Journal() = default;
  /// Makes all of it durable, or throws std::exception and has written nothing of it.
  virtual void write(Instant now, std::span<const Batch> batches) = 0;
  /// A job of any age. Throws std::exception if it can't be read.
  virtual std::optional<control::Job> job(control::JobId id) = 0;
  /// The latest entries of the audit log, latest first; of those before number `before`, if given.
  /// Throws std::exception if they can't be read.
  virtual std::vector<access::AuditEntry> audit(std::size_t /*limit*/,
                                                std::optional<std::uint64_t> /*before*/) {
    return {};
  }
  /// Called about once a minute, behind the hot path: may use a few ms to delete what is too old.
  virtual void tidy(Instant /*now*/) {}
};

}  // namespace tagline::net
