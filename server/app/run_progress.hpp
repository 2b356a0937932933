// How far a long computation is, on one line of the terminal that is wiped in the end. Silent where
// standard error is no terminal.
#pragma once

#include <unistd.h>

#include <chrono>
#include <iostream>
#include <string>

namespace tagline::app {

class RunProgress {
 public:
  RunProgress() : shown_(isatty(STDERR_FILENO) == 1) {}
  ~RunProgress() { wipe(); }
  RunProgress(const RunProgress&) = delete;
  RunProgress& operator=(const RunProgress&) = delete;

  /// Shown at most four times a second.
  void show(const std::string& line) {
    const auto now = std::chrono::steady_clock::now();
    if (!shown_ || now - last_ < std::chrono::milliseconds{250}) return;
    last_ = now;
    told_ = true;
    std::cerr << "\r\033[K" << line << std::flush;
  }
  void wipe() {
    if (told_) std::cerr << "\r\033[K" << std::flush;
    told_ = false;
  }

 private:
  bool shown_;
  bool told_{false};
  std::chrono::steady_clock::time_point last_{std::chrono::steady_clock::now()};
};

}  // namespace tagline::app
