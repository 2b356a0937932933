// Reads what the figures over time are made of, on a connection of its own that only reads: however
// much is asked, it holds up no commit (WAL: readers and the writer don't wait for each other).
#pragma once

#include <chrono>
#include <filesystem>
#include <stdexcept>

#include "server/figures/report.hpp"

namespace tagline::store {

/// More was asked than is read at once; what() says so, and what to do.
struct TooMuch : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct FigureLimits {
  /// Jobs of each kind in a range: some 30 days of the busiest works of this size.
  int jobs{200'000};
  /// A reader keeps SQLite from tidying its log, so none goes on for long.
  std::chrono::milliseconds time{5'000};
};

/// One call at a time.
class FigureReader {
 public:
  explicit FigureReader(const std::filesystem::path& folder, FigureLimits limits = {});
  /// As of one moment. Throws StoreError, or TooMuch.
  [[nodiscard]] figures::Rows read(const figures::Range& range) const;

 private:
  std::filesystem::path file_;
  FigureLimits limits_;
};

}  // namespace tagline::store
