// Rows into what the core starts from. Reads only; reconcile.hpp has made the rows fit the floor
// and the fleet before.
#pragma once

#include <optional>

#include "server/store/names.hpp"
#include "server/store/prepared.hpp"
#include "server/store/store.hpp"

namespace tagline::store {

/// All throw StoreError for rows no version of this program writes, SQLite::Exception otherwise.
/// `file` is for messages.
struct Loading {
  SQLite::Database& database;
  const Names& names;
  const std::filesystem::path& file;

  /// Open jobs, and those ended at or after `ended_since`; by id. A job that names a station the
  /// floor lacks is left out.
  [[nodiscard]] std::vector<control::Job> jobs(Instant ended_since) const;
  [[nodiscard]] std::optional<control::Job> job(control::JobId id) const;
  /// Paths and carts of the fleet. A path that can't be resolved is left out, its cart is in
  /// doubt, may be at any of its points, and `notes` tells.
  void carts(control::Restored& into, std::vector<std::string>& notes) const;
  /// last_job, all_stopped, loads at stations, what is out of service, stopped zones.
  void service(control::Restored& into) const;
  [[nodiscard]] Instant latest() const;
};

}  // namespace tagline::store
