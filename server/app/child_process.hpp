// A child process running another subcommand of this same program. It ends with its parent.
#pragma once

#include <sys/types.h>

#include <chrono>
#include <optional>
#include <string>
#include <vector>

namespace tagline::app {

class ChildProcess {
 public:
  /// Starts /proc/self/exe with `arguments`. Throws std::runtime_error if it can't.
  explicit ChildProcess(const std::vector<std::string>& arguments);
  /// Ends it: SIGTERM, then after 10 s SIGKILL.
  ~ChildProcess();
  ChildProcess(const ChildProcess&) = delete;
  ChildProcess& operator=(const ChildProcess&) = delete;

  /// Exit code once it has ended (128 + signal if by a signal); doesn't wait.
  std::optional<int> ended();
  /// As the destructor, and returns the exit code.
  int end();

 private:
  pid_t pid_{-1};
  std::optional<int> code_;
};

/// While it lives, SIGINT and SIGTERM wait to be asked for instead of ending this process.
class HeldSignals {
 public:
  HeldSignals();
  /// True if one of them came within `time` (or had come before).
  static bool came_within(std::chrono::milliseconds time);
};

}  // namespace tagline::app
