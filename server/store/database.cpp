// Opening: version first (a newer database is left untouched), then settings, check, migration.
#include "server/store/database.hpp"

#include <SQLiteCpp/Statement.h>

#include <array>
#include <string>

#include "server/store/errors.hpp"
#include "server/store/schema.hpp"

namespace tagline::store {
namespace {

/// How long a commit waits for another program (a backup, a person's sqlite3) to let go, ms.
constexpr int patience_ms = 5'000;

void set_journal(SQLite::Database& database, const std::filesystem::path& file) {
  const std::string mode = database.execAndGet("PRAGMA journal_mode = WAL").getString();
  if (mode != "wal") {
    throw StoreError(file.string() +
                     " can't be used in WAL mode, which this folder's file system may not offer. "
                     "Choose a folder on a local disk with --data.");
  }
  database.exec("PRAGMA synchronous = FULL");
  database.exec("PRAGMA foreign_keys = ON");
}

/// What the service starts from; each with its indexes. The history (reads, job events) is long
/// and looked through behind the service: whole_check.hpp.
constexpr std::array needed_at_start{"service", "jobs",  "paths",
                                     "passed",  "carts", "station_loads"};

void check_needed(SQLite::Database& database, const std::filesystem::path& file) {
  for (const char* table : needed_at_start) {
    const bool there =
        database
            .execAndGet(std::string("SELECT count(*) FROM sqlite_schema WHERE name = '") + table +
                        "'")
            .getInt() == 1;
    if (!there) continue;  // a new database, or an older one about to be migrated
    const std::string found =
        database.execAndGet(std::string("PRAGMA quick_check(") + table + ")").getString();
    if (found == "ok") continue;
    throw StoreError(file.string() + " is damaged (" + found +
                     "). Check the disk, then put a backup in its place, or move the file away to "
                     "start with no jobs.");
  }
}

}  // namespace

std::unique_ptr<SQLite::Database> open_database(const std::filesystem::path& file) {
  try {
    auto database =
        std::make_unique<SQLite::Database>(file.string(), SQLite::OPEN_READWRITE, patience_ms);
    check_version(*database, migrations(), file);
    set_journal(*database, file);
    check_needed(*database, file);
    migrate(*database, migrations());
    return database;
  } catch (const SQLite::Exception& error) {
    throw explain(error, file, "opening the database");
  }
}

}  // namespace tagline::store
