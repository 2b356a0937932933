// The journal of runs, written. The caller opens and ends the transaction.
#pragma once

#include <optional>
#include <span>

#include "server/store/prepared.hpp"
#include "server/store/store.hpp"

namespace tagline::store {

/// The last block of the run, still growing; as it is on disk.
struct OpenBlock {
  std::int64_t run{};
  std::int64_t block{};    // its number
  std::uint64_t first{1};  // number of its first event in the run
  replay::Block events;
};

/// Writes events into blocks. A block is written again each time it grows, up to a size at which
/// several fill a page of the database: a row for each commit would cost more than its events.
class RunWriter {
 public:
  /// Keeps a reference.
  explicit RunWriter(SQLite::Database& database);

  /// Puts the start of a new run; its first block to be filled. Throws SQLite::Exception.
  OpenBlock begin(const RunStart& start);
  /// Adds the events and endings of all batches. Throws SQLite::Exception; then `open` is not what
  /// is on disk.
  void write(Instant now, std::span<const Batch> batches, OpenBlock& open);

  /// Nothing before a run has begun.
  [[nodiscard]] const std::optional<OpenBlock>& open_block() const { return open_; }
  void set_open_block(OpenBlock open) { open_ = std::move(open); }

 private:
  void put(const OpenBlock& open);

  SQLite::Database* database_;
  Prepared put_block_, end_run_;
  std::optional<OpenBlock> open_;
};

}  // namespace tagline::store
