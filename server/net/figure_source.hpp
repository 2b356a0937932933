// What the figures' desk asks of the record: a port, so that this folder need not know of SQL.
#pragma once

#include <stdexcept>

#include "server/figures/report.hpp"

namespace tagline::net {

/// More was asked than is read at once; what() says so, and what to do.
struct AskedTooMuch : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Used by one thread at a time (the desk's), beside the one that writes.
class FigureSource {
 public:
  virtual ~FigureSource() = default;
  /// Throws AskedTooMuch, or another std::exception if it can't be read.
  virtual figures::Rows read(const figures::Range& range) = 0;
};

/// Where the sums go that only the running service can keep.
class FigureKeeper {
 public:
  virtual ~FigureKeeper() = default;
  /// Thread-safe; never blocks. They are on disk a moment later.
  virtual void keep_sums(figures::Sums sums) = 0;
};

}  // namespace tagline::net
