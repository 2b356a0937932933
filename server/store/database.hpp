// Opening the database file the way the promises of the store need it.
#pragma once

#include <SQLiteCpp/Database.h>

#include <filesystem>
#include <memory>

namespace tagline::store {

/// How long a commit or a reading waits for another program (a backup, a person's sqlite3) to let
/// go, ms.
constexpr int patience_ms = 5'000;

/// Opens and migrates `file`, which must exist (it may be empty). WAL with synchronous=FULL: a
/// commit is on disk when it returns. All but the long history is checked for damage before; a
/// year of that takes longer to look through than a works can stand still (whole_check.hpp). Throws
/// StoreError.
std::unique_ptr<SQLite::Database> open_database(const std::filesystem::path& file);

}  // namespace tagline::store
