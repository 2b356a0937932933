// What the live service asks of the thing that remembers: a port, so that this folder need not
// know of SQL and a test can make the disk fail. server/app puts server/store behind it.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "server/control/outcome.hpp"

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
};

/// Used by one thread at a time (the committer's).
class Journal {
 public:
  virtual ~Journal() = default;
  /// Makes all of it durable, or throws std::exception and has written nothing of it.
  virtual void write(Instant now, std::span<const Batch> batches) = 0;
  /// A job of any age. Throws std::exception if it can't be read.
  virtual std::optional<control::Job> job(control::JobId id) = 0;
};

}  // namespace tagline::net
