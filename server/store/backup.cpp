// See backup.hpp. Files are moved with POSIX calls where it matters what is on disk when.
#include "server/store/backup.hpp"

#include <SQLiteCpp/Backup.h>
#include <SQLiteCpp/SQLiteCpp.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <ctime>
#include <string>
#include <system_error>
#include <utility>

#include "server/store/database.hpp"
#include "server/store/errors.hpp"
#include "server/store/folder.hpp"
#include "server/store/prepared.hpp"
#include "server/store/schema.hpp"
#include "server/store/store.hpp"

namespace tagline::store {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void give_up(const fs::path& file, const std::string& doing, int error) {
  throw StoreError(file.string() + " can't be " + doing + ": " + words_of_errno(error) +
                   ". Check the disk and the rights of the folder, then try again.");
}

void sync(const fs::path& path, int flags) {
  const int file = ::open(path.c_str(), flags | O_CLOEXEC);
  if (file < 0) give_up(path, "opened", errno);
  const int result = ::fsync(file);
  const int why = errno;
  ::close(file);
  if (result != 0) give_up(path, "written", why);
}
void sync_file(const fs::path& file) { sync(file, O_RDONLY); }
void sync_folder_of(const fs::path& file) {
  sync(file.has_parent_path() ? file.parent_path() : fs::path("."), O_RDONLY | O_DIRECTORY);
}

void rename_on_disk(const fs::path& from, const fs::path& to) {
  std::error_code error;
  fs::rename(from, to, error);
  if (error) give_up(to, "put in place", error.value());
  sync_folder_of(to);
}

/// A file that is gone unless it was put in its place, with what SQLite puts beside it.
struct Draft {
  fs::path path;
  explicit Draft(fs::path file) : path(std::move(file)) { remove(); }
  Draft(const Draft&) = delete;
  Draft& operator=(const Draft&) = delete;
  ~Draft() { remove(); }
  void remove() const {
    for (const char* more : {"", "-wal", "-shm", "-journal"}) {
      std::error_code error;
      fs::remove(path.string() + more, error);
    }
  }
};

std::string words_of(Instant moment) {
  const std::time_t time = std::chrono::system_clock::to_time_t(moment);
  std::tm utc{};
  gmtime_r(&time, &utc);
  std::array<char, 32> text{};
  const std::size_t length = std::strftime(text.data(), text.size(), "%Y%m%dT%H%M%SZ", &utc);
  return {text.data(), length};
}

BackupFacts facts_of(SQLite::Database& database, const fs::path& file) {
  BackupFacts facts;
  facts.all_jobs =
      static_cast<std::size_t>(database.execAndGet("SELECT count(*) FROM jobs").getInt64());
  facts.open_jobs = static_cast<std::size_t>(
      database
          .execAndGet("SELECT count(*) FROM jobs WHERE state IN ('queued', 'assigned', 'loaded')")
          .getInt64());
  facts.latest = from_ms(database.execAndGet("SELECT latest FROM service").getInt64());
  facts.bytes = fs::file_size(file);
  return facts;
}

/// Refuses what is not one of ours, whole, and of a version we know. Changes nothing.
void check(SQLite::Database& database, const fs::path& file) {
  check_version(database, migrations(), file);
  if (database.execAndGet("PRAGMA user_version").getInt() == 0) {
    throw StoreError(file.string() + " is empty: there is nothing in it to copy.");
  }
  const std::string found = database.execAndGet("PRAGMA quick_check(1)").getString();
  if (found != "ok") {
    throw StoreError(file.string() + " is damaged (" + found + "). Use another backup.");
  }
}

/// One file without companions, private to its owner, on disk.
void copy(SQLite::Database& from, const fs::path& to) {
  const int file = ::open(to.c_str(), O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (file < 0) give_up(to, "made", errno);
  ::close(file);
  {
    SQLite::Database copied(to.string(), SQLite::OPEN_READWRITE);
    SQLite::Backup backup(copied, from);
    backup.executeStep(-1);  // all at once: readers don't keep writers waiting in WAL mode
  }
  SQLite::Database copied(to.string(), SQLite::OPEN_READWRITE);
  copied.execAndGet("PRAGMA journal_mode = DELETE");
  check(copied, to);
}

}  // namespace

BackupFacts back_up(const fs::path& folder, const fs::path& to) {
  const fs::path file = folder / "tagline.db";
  if (!fs::exists(file)) {
    throw StoreError("There is no database in " + folder.string() +
                     ". Name the data folder of the service with --data.");
  }
  if (fs::exists(to)) {
    throw StoreError(to.string() + " exists already and is not overwritten. Choose another name.");
  }
  try {
    const Draft draft{to.string() + ".draft"};
    // Reading may need to make the companions of the WAL, hence not read-only.
    SQLite::Database database(file.string(), SQLite::OPEN_READWRITE, patience_ms);
    check_version(database, migrations(), file);
    copy(database, draft.path);
    sync_file(draft.path);
    rename_on_disk(draft.path, to);
    SQLite::Database copied(to.string(), SQLite::OPEN_READONLY);
    return facts_of(copied, to);
  } catch (const SQLite::Exception& error) {
    throw explain(error, file, "backing up");
  }
}

BackupFacts restore(const fs::path& folder, const fs::path& from, Instant now) {
  if (!fs::is_regular_file(from)) {
    throw StoreError("There is no backup " + from.string() + ".");
  }
  const Folder locked(folder, Folder::For::restoring);
  const fs::path file = locked.database();
  try {
    // Under a name of its own: an earlier one that was cut off has left its mark, which keeps the
    // service from starting on half a folder until one has gone through.
    Draft draft(locked.restoring().string() + ".draft");
    {
      SQLite::Database backup(from.string(), SQLite::OPEN_READONLY, patience_ms);
      check(backup, from);
      copy(backup, draft.path);
    }
    // Brought up to date, and marked: the next start must not take it for the latest news.
    {
      const auto database = open_database(draft.path);
      database->exec("UPDATE service SET restored = 1");
      database->execAndGet("PRAGMA journal_mode = DELETE");
    }
    sync_file(draft.path);
    sync_folder_of(draft.path);
    const std::string kept = file.string() + ".replaced-" + words_of(now);
    if (fs::file_size(file) > 0) {
      if (::link(file.c_str(), kept.c_str()) != 0) give_up(kept, "made", errno);
    }
    // From here on the folder is neither the old nor the new one, and marked so.
    rename_on_disk(draft.path, locked.restoring());
    // The log belongs to the old database; beside the new one it would be taken for its own.
    for (const char* more : {"-wal", "-shm"}) {
      const std::string companion = file.string() + more;
      if (fs::exists(companion)) rename_on_disk(companion, kept + more);
    }
    rename_on_disk(locked.restoring(), file);
    SQLite::Database restored(file.string(), SQLite::OPEN_READONLY);
    return facts_of(restored, file);
  } catch (const SQLite::Exception& error) {
    throw explain(error, from, "restoring");
  }
}

}  // namespace tagline::store
