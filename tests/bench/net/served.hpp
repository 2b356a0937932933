// The real service in a process of its own, as `tagline serve` runs it, and what it uses. The
// program that uses this must call run_service() when its arguments are "serve FOLDER".
#pragma once

#include <sys/types.h>

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "server/app/child_process.hpp"
#include "server/floor/floor.hpp"
#include "tests/bench/net/figures.hpp"

namespace tagline::bench {

/// A folder of its own under TMPDIR or /tmp (a real disk: synchronous=FULL must cost what it
/// costs), removed at the end.
class WorkFolder {
 public:
  WorkFolder();
  ~WorkFolder();
  WorkFolder(const WorkFolder&) = delete;
  WorkFolder& operator=(const WorkFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

struct BenchCart {
  std::string id;
  std::string key;
};
std::vector<BenchCart> bench_fleet(std::size_t carts);

/// While it lives this thread, and whatever it starts, runs on one core only.
class Pinned {
 public:
  explicit Pinned(int core);
  ~Pinned();
  Pinned(const Pinned&) = delete;
  Pinned& operator=(const Pinned&) = delete;
};

class Served {
 public:
  /// Writes floor and fleet into `folder` and starts the service on `folder`/data, on `core` only
  /// if given. Returns when it answers /api/health with 200. Throws std::runtime_error.
  Served(const std::filesystem::path& folder, const floor::Floor& floor,
         const std::vector<BenchCart>& fleet, std::optional<int> core = {});

  [[nodiscard]] std::uint16_t port() const { return port_; }
  /// From before the process was made until it had answered.
  [[nodiscard]] double start_s() const { return start_s_; }
  /// Seconds of processor time used so far.
  [[nodiscard]] double cpu_s() const;
  /// Memory in RAM now, and the most it was, MiB.
  [[nodiscard]] double rss_mib() const { return status_mib("VmRSS:"); }
  [[nodiscard]] double most_rss_mib() const { return status_mib("VmHWM:"); }
  /// Exit code.
  int stop() { return child_->end(); }

 private:
  [[nodiscard]] double status_mib(const std::string& key) const;
  std::filesystem::path folder_;
  std::optional<app::ChildProcess> child_;
  std::uint16_t port_{};
  pid_t pid_{};
  double start_s_{};
};

/// What the process made by Served runs: `tagline serve` without reading its command line. Returns
/// the exit code.
int run_service(const std::filesystem::path& folder);

/// Sends the requests on `threads` threads, each on a connection of its own, and throws
/// std::runtime_error for the first that is not answered with 2xx.
struct Post {
  std::string target;
  std::string body;
};
void post_all(std::uint16_t port, const std::vector<Post>& posts, std::size_t threads = 8);

}  // namespace tagline::bench
