// Opening: version first (a newer database is left untouched), then settings, check, migration.
#include "server/store/database.hpp"

#include <SQLiteCpp/Statement.h>

#include <string>
#include <vector>

#include "server/store/errors.hpp"
#include "server/store/schema.hpp"

namespace tagline::store {
namespace {

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

/// All but the history, which is most of the database after a year, and which the service does not
/// start from: it is looked through behind the service (whole_check.hpp).
void check_needed(SQLite::Database& database, const std::filesystem::path& file) {
  std::vector<std::string> tables;
  SQLite::Statement names(database,
                          "SELECT name FROM sqlite_schema WHERE type = 'table' AND "
                          "name NOT IN ('reads', 'job_events', 'run_events', 'audit', "
                          "'cart_quarters', 'merge_quarters', 'tag_quarters') AND "
                          "name NOT LIKE 'sqlite\\_%' ESCAPE '\\'");
  while (names.executeStep()) tables.push_back(names.getColumn(0).getString());
  for (const std::string& table : tables) {
    const std::string found = database.execAndGet("PRAGMA quick_check(" + table + ")").getString();
    if (found != "ok") {
      throw StoreError(file.string() + " is damaged (" + found +
                       "). Check the disk, then put a backup in its place, or move the file away "
                       "to start with no jobs.");
    }
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
