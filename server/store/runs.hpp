// The journal of runs, read: from another process than the service's, also while that runs.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/floor/units.hpp"

namespace tagline::store {

/// From one start of the service to its end.
struct RunInfo {
  std::int64_t run{};
  Instant began;
  /// Moment of the last event kept; `began` if there is none.
  Instant until;
  std::uint64_t events{};
  std::string floor_name;
  /// Version of the program.
  std::string program;
  /// How it ended; nothing if that was not written: it was killed, or is still running.
  std::optional<std::string> ending;
};

/// A block of events as it is kept (block.hpp).
struct KeptBlock {
  std::int64_t block{};
  /// Number of its first event in the run, from 1.
  std::uint64_t first{};
  Instant begins;
  std::string events;
};

class Runs {
 public:
  /// Opens the database of a data folder to read only. Throws StoreError: there is none, it is not
  /// ours, of a newer version or from before there was a journal.
  explicit Runs(const std::filesystem::path& folder);
  ~Runs();
  Runs(const Runs&) = delete;
  Runs& operator=(const Runs&) = delete;

  // All throw StoreError.

  /// Oldest first.
  [[nodiscard]] std::vector<RunInfo> list() const;
  /// What a run began from.
  struct Source {
    std::string floor_document;
    /// Of start_bytes.hpp.
    std::string start;
    /// Its blocks have numbers from here on, and below there.
    std::int64_t first_block{}, end_block{};
  };
  /// Nothing if there is no such run (any more).
  [[nodiscard]] std::optional<Source> source(std::int64_t run) const;
  /// The next blocks of a run from number `from` on, some at a time, so that the service is never
  /// kept from tidying its files. None: that was all.
  [[nodiscard]] std::vector<KeptBlock> blocks(const Source& source, std::int64_t from) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tagline::store
