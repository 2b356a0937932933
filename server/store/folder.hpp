// The data folder: made if missing, private to the user of the service, and locked against a
// second service for as long as this object lives.
#pragma once

#include <filesystem>

namespace tagline::store {

/// A locked data folder. The lock is flock(2) on `tagline.lock`, so that the system itself frees
/// it when the process ends in whatever way; the file holds the owner's process id for people.
class Folder {
 public:
  enum class For { service, restoring };

  /// Makes the folder (mode 0700) and an empty database file (mode 0600) if they are missing.
  /// Throws StoreError if the folder can't be made or written, another service has it, or a restore
  /// was begun in it and not ended (unless it is taken for another one).
  explicit Folder(std::filesystem::path path, For what = For::service);
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  [[nodiscard]] std::filesystem::path database() const { return path_ / "tagline.db"; }
  /// What is being put in the database's place (backup.hpp).
  [[nodiscard]] std::filesystem::path restoring() const { return path_ / "tagline.db.restoring"; }

 private:
  std::filesystem::path path_;
  int lock_{-1};
};

}  // namespace tagline::store
