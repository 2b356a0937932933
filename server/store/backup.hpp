// Copies of the database for bad days: made while the service runs, put back while it does not.
#pragma once

#include <filesystem>

#include "server/floor/units.hpp"

namespace tagline::store {

/// What a copy holds.
struct BackupFacts {
  std::size_t open_jobs{}, all_jobs{};
  /// The latest moment written in it.
  Instant latest{};
  std::uintmax_t bytes{};
};

/// Copies the database of the data folder into `to`, a single file that needs nothing beside it.
/// The service may be running: the copy is of one moment, and nothing waits for it (SQLite's
/// online backup, https://www.sqlite.org/backup.html). It is checked, on disk, and has its name
/// only when it is whole. Throws StoreError: there is no database, `to` exists already, the disk.
BackupFacts back_up(const std::filesystem::path& folder, const std::filesystem::path& to);

/// Puts a backup in the place of the data folder's database, which is kept beside it under a name
/// with `.replaced-` and the moment. The service must not be running (StoreError). A backup that is
/// damaged, of another program or of a newer version is refused, and nothing has changed. One that
/// was interrupted leaves `tagline.db.restoring`: no service starts on the folder until a restore
/// has gone through.
/// What happened after the backup is not in it. So the next start treats every cart that was on
/// the floor as in doubt and stops everything until a person has looked (Found::notes).
BackupFacts restore(const std::filesystem::path& folder, const std::filesystem::path& from,
                    Instant now);

}  // namespace tagline::store
