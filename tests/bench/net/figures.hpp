// Figures of the benchmarks of the service: quantiles, verdicts, and what the machine was doing.
#pragma once

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <vector>

namespace tagline::bench {

using Steady = std::chrono::steady_clock;

inline double seconds_since(Steady::time_point start) {
  return std::chrono::duration<double>(Steady::now() - start).count();
}

/// Times in ms.
class Times {
 public:
  void add(Steady::duration time) {
    ms_.push_back(std::chrono::duration<double, std::milli>(time).count());
    sorted_ = false;
  }
  void add(const Times& more) {
    ms_.insert(ms_.end(), more.ms_.begin(), more.ms_.end());
    sorted_ = false;
  }
  [[nodiscard]] std::size_t count() const { return ms_.size(); }
  /// 0 for none.
  [[nodiscard]] double quantile(double q) {
    if (ms_.empty()) return 0;
    if (!sorted_) std::ranges::sort(ms_);
    sorted_ = true;
    return ms_[static_cast<std::size_t>(q * static_cast<double>(ms_.size() - 1))];
  }

 private:
  std::vector<double> ms_;
  bool sorted_{false};
};

inline void print_times(const char* what, Times& times) {
  std::printf("  %-44s %8zu  p50 %7.3f  p90 %7.3f  p99 %7.3f  max %8.3f ms\n", what, times.count(),
              times.quantile(0.5), times.quantile(0.9), times.quantile(0.99), times.quantile(1));
}

/// Says PASS or MISSED; `smoke` runs are too short to judge.
inline void print_verdict(const char* what, bool within, bool smoke) {
  std::printf("  %s: %s\n", what, smoke ? "not judged (smoke run)" : within ? "PASS" : "MISSED");
}

/// Others may use the machine meanwhile: runnable processes of the last minute.
inline double load_average() {
  double load = 0;
  return getloadavg(&load, 1) == 1 ? load : -1;
}

}  // namespace tagline::bench
