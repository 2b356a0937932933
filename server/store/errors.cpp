// Words and remedies for SQLite's result codes (https://www.sqlite.org/rescode.html).
#include "server/store/errors.hpp"

#include <sqlite3.h>

#include <system_error>

namespace tagline::store {
namespace {

struct Meaning {
  std::string_view wrong;
  std::string_view remedy;
};

Meaning meaning_of(int primary_code) {
  switch (primary_code) {
    case SQLITE_FULL:
      return {"the disk is full", "Free some space, then start the service again."};
    case SQLITE_READONLY:
      return {"it can't be written",
              "Give the user this service runs as write access to the file and its folder, or "
              "choose another folder with --data."};
    case SQLITE_IOERR:
      return {"the disk reported an error",
              "Check the disk and the system's log, then start the service again."};
    case SQLITE_CANTOPEN:
      return {"a file can't be opened",
              "Give the user this service runs as access to the file and its folder."};
    case SQLITE_NOTADB:
      return {"it is not a database",
              "Move the file away (a new one is then made), or choose another folder with --data."};
    case SQLITE_CORRUPT:
      return {"the database is damaged",
              "Check the disk, then put a backup in its place, or move the file away to start "
              "with no jobs."};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {"another program keeps the database locked",
              "End the program that has the file open, then start the service again."};
    case SQLITE_CONSTRAINT:
      return {"it would break a rule of the database",
              "This is a defect in Tagline; please report it with this text."};
    default:
      return {"the database reported an error", "If it comes again, report it with this text."};
  }
}

}  // namespace

StoreError explain(const SQLite::Exception& error, const std::filesystem::path& file,
                   std::string_view doing) {
  // The low byte of an extended code is the primary code; codes below 0 are SQLiteCpp's own.
  const int code = error.getErrorCode() < 0 ? error.getErrorCode() : error.getErrorCode() & 0xff;
  const Meaning meaning = meaning_of(code);
  return StoreError(file.string() + ": " + std::string(doing) +
                    " failed: " + std::string(meaning.wrong) + " (" + error.what() + "). " +
                    std::string(meaning.remedy));
}

std::string words_of_errno(int error) { return std::generic_category().message(error); }

}  // namespace tagline::store
