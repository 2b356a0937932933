// Where changes of who may come in, and the audit log, are made durable: a port, so that the
// account routes need not know of the engine's threads.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "server/access/change.hpp"

namespace tagline::net {

/// Thread-safe; never blocks. What is passed in is called on another thread.
class AccessKeeper {
 public:
  virtual ~AccessKeeper() = default;
  /// `done` is told whether it is on disk. Without it nobody waits: it is there a moment later.
  virtual void keep(std::vector<access::Change> changes, std::function<void(bool)> done) = 0;
  using Entries = std::optional<std::vector<access::AuditEntry>>;
  /// The latest entries of the audit log before number `before`; nothing if they can't be read.
  virtual void read_audit(std::size_t limit, std::optional<std::uint64_t> before,
                          std::function<void(Entries)> done) = 0;
};

}  // namespace tagline::net
