// The tables of the database, and the steps that bring an older database up to date.
#pragma once

#include <SQLiteCpp/Database.h>

#include <filesystem>
#include <span>

namespace tagline::store {

/// One step: SQL that turns schema `to - 1` into schema `to`. An empty database is schema 0.
struct Migration {
  int to{};
  const char* sql{};
};

/// Every step, oldest first, ending at `schema_version`.
std::span<const Migration> migrations();

/// Marks a database as ours (PRAGMA application_id): "TAGL" in ASCII.
inline constexpr int application_id = 0x5441474c;

/// Refuses what is not ours, and a database written by a newer version than `steps` lead to or
/// older than they start from. Reads only. `file` is for the message. Throws StoreError.
void check_version(SQLite::Database& database, std::span<const Migration> steps,
                   const std::filesystem::path& file);

/// Runs the steps the database lacks, each in one transaction with its new version number, so that
/// an interrupted one leaves the version before it whole. Throws SQLite::Exception.
void migrate(SQLite::Database& database, std::span<const Migration> steps);

}  // namespace tagline::store
