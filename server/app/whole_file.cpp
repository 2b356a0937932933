// write, fsync, rename, fsync of the folder.
#include "server/app/whole_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <stdexcept>
#include <string>
#include <system_error>

namespace tagline::app {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& file, int error) {
  throw std::runtime_error("can't write " + file.string() + ": " +
                           std::generic_category().message(error) +
                           "; nothing of it was changed. Make room there, or let this user write "
                           "in that folder");
}

/// A file that is closed whatever happens.
class Open {
 public:
  Open(const fs::path& path, int flags, mode_t mode) : path_(path) {
    file_ = ::open(path.c_str(), flags | O_CLOEXEC, mode);
    if (file_ < 0) fail(path, errno);
  }
  ~Open() { ::close(file_); }
  Open(const Open&) = delete;
  Open& operator=(const Open&) = delete;

  void write(std::string_view content) const {
    while (!content.empty()) {
      const ssize_t written = ::write(file_, content.data(), content.size());
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) fail(path_, errno);
      content.remove_prefix(static_cast<std::size_t>(written));
    }
  }
  /// Whatever the mask for new files is.
  void mode(mode_t mode) const {
    if (::fchmod(file_, mode) != 0) fail(path_, errno);
  }
  void sync() const {
    if (::fsync(file_) != 0) fail(path_, errno);
  }

 private:
  fs::path path_;
  int file_{-1};
};

mode_t mode_of(const fs::path& file) {
  struct stat found {};
  return ::stat(file.c_str(), &found) == 0 ? found.st_mode & 0777 : S_IRUSR | S_IWUSR;
}

}  // namespace

void write_whole(const fs::path& file, std::string_view content) {
  // A link stays one: what it leads to is replaced.
  std::error_code error;
  const fs::path real = fs::exists(file, error) ? fs::canonical(file, error) : file;
  const fs::path target = error ? file : real;
  const fs::path beside = target.string() + ".new";
  try {
    const Open out(beside, O_WRONLY | O_CREAT | O_TRUNC, mode_of(target));
    out.mode(mode_of(target));
    out.write(content);
    out.sync();
    if (::rename(beside.c_str(), target.c_str()) != 0) fail(target, errno);
  } catch (const std::runtime_error&) {
    ::unlink(beside.c_str());
    throw;
  }
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  Open(folder, O_RDONLY | O_DIRECTORY, 0).sync();
}

}  // namespace tagline::app
