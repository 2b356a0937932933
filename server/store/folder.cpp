// Making and locking the data folder, with POSIX calls since modes and errno matter here.
#include "server/store/folder.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <string>

#include "server/store/errors.hpp"
#include "server/store/store.hpp"

namespace tagline::store {
namespace {

namespace fs = std::filesystem;

void make_folder(const fs::path& folder) {
  std::error_code error;
  const fs::file_status status = fs::status(folder, error);
  if (fs::is_directory(status)) return;
  if (fs::exists(status)) {
    throw StoreError("Data folder " + folder.string() +
                     " is a file, not a folder. Choose another with --data.");
  }
  error.clear();  // that it isn't there yet is no error
  if (folder.has_parent_path()) fs::create_directories(folder.parent_path(), error);
  if (!error && ::mkdir(folder.c_str(), S_IRWXU) != 0 && errno != EEXIST) {
    error = std::error_code(errno, std::generic_category());
  }
  if (error) {
    throw StoreError("Data folder " + folder.string() + " can't be made: " + error.message() +
                     ". Make it for the user this service runs as, or choose another with --data.");
  }
}

std::string owner_named_in(int lock) {
  std::array<char, 32> text{};
  const ssize_t length = ::pread(lock, text.data(), text.size() - 1, 0);
  std::string owner(text.data(), length > 0 ? static_cast<std::size_t>(length) : 0);
  while (!owner.empty() && owner.back() == '\n') owner.pop_back();
  return owner.empty() ? "unknown" : owner;
}

int take_lock(const fs::path& folder) {
  const fs::path file = folder / "tagline.lock";
  const int lock = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (lock < 0) {
    throw StoreError("Data folder " + folder.string() +
                     " can't be written (tagline.lock: " + words_of_errno(errno) +
                     "). Give the user this service runs as write access to it, or choose another "
                     "with --data.");
  }
  if (::flock(lock, LOCK_EX | LOCK_NB) != 0) {
    const int why = errno;
    const std::string owner = owner_named_in(lock);
    ::close(lock);
    if (why != EWOULDBLOCK) {
      throw StoreError(file.string() + " can't be locked: " + words_of_errno(why) +
                       ". Choose a folder on a local disk with --data.");
    }
    throw StoreError("Data folder " + folder.string() +
                     " is in use by another Tagline service, process " + owner +
                     ". Stop that one first, or choose another folder with --data.");
  }
  const std::string own = std::to_string(::getpid()) + "\n";
  // The process id only serves the message above, so a failure to write it is no reason to stop;
  // a full disk shows itself at the database with a better message.
  if (::ftruncate(lock, 0) != 0 || ::pwrite(lock, own.data(), own.size(), 0) < 0) errno = 0;
  return lock;
}

/// SQLite would make the file with mode 0644, and would open one it can't write as read-only.
void make_database_file(const fs::path& file) {
  const int database = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (database < 0) {
    throw StoreError(file.string() + " can't be opened for writing: " + words_of_errno(errno) +
                     ". Give the user this service runs as write access to it, or choose another "
                     "folder with --data.");
  }
  ::close(database);
}

}  // namespace

Folder::Folder(std::filesystem::path path, For what) : path_(std::move(path)) {
  if (path_.filename().empty()) path_ = path_.parent_path();  // "data/" is "data"
  make_folder(path_);
  lock_ = take_lock(path_);
  try {
    if (what == For::service && fs::exists(restoring())) {
      throw StoreError(restoring().string() +
                       " shows that putting a backup in place was begun and not ended. Run "
                       "\"tagline restore\" again; then start the service.");
    }
    make_database_file(database());
  } catch (...) {
    ::close(lock_);
    throw;
  }
}

Folder::~Folder() { ::close(lock_); }

}  // namespace tagline::store
