// Opening the database file the way the promises of the store need it.
#pragma once

#include <SQLiteCpp/Database.h>

#include <filesystem>
#include <memory>

namespace tagline::store {

/// Opens and migrates `file`, which must exist (it may be empty). WAL with synchronous=FULL: a
/// commit is on disk when it returns. What recovery reads is checked for damage before; the history
/// is not, since it may take a minute to look through (whole_check.hpp). Throws StoreError.
std::unique_ptr<SQLite::Database> open_database(const std::filesystem::path& file);

}  // namespace tagline::store
