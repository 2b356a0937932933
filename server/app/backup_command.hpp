// `tagline backup` and `tagline restore`: the service's record into a file, and back.
#pragma once

#include <filesystem>

namespace tagline::app {

struct BackupOptions {
  std::filesystem::path data, file;
};

/// Writes the record of a data folder into a new file; the service may be running. Exit code 0;
/// throws BadInput with what is wrong and what to do.
int backup(const BackupOptions& options);

/// Puts such a file in the place of a data folder's record; the service must not be running.
int restore(const BackupOptions& options);

}  // namespace tagline::app
