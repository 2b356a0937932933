// How often something may happen: so many at once, and so many a second on average. The generic
// cell rate algorithm (ITU-T I.371, annex A, "virtual scheduling"): one moment is all it keeps.
#pragma once

#include <chrono>

namespace tagline::access {

struct Allowance {
  double per_second{1};
  double at_once{1};  // at least 1
};

class Budget {
 public:
  using Time = std::chrono::steady_clock::time_point;

  explicit Budget(Allowance allowance)
      : step_(std::chrono::duration_cast<Time::duration>(
            std::chrono::duration<double>(1 / allowance.per_second))),
        most_ahead_(std::chrono::duration_cast<Time::duration>(step_ * (allowance.at_once - 1))) {}

  /// It happened once, whether there was room for it or not.
  void spend(Time now) { due_ = (due_ < now ? now : due_) + step_; }
  /// It may happen once more.
  [[nodiscard]] bool has_room(Time now) const { return due_ - now <= most_ahead_; }
  /// At least half of `at_once` may happen: whoever was over the average has been below it since.
  [[nodiscard]] bool has_recovered(Time now) const { return due_ - now <= most_ahead_ / 2; }
  /// As if nothing had ever happened.
  [[nodiscard]] bool is_full(Time now) const { return due_ <= now; }
  /// How long until there is room; 0 if there is.
  [[nodiscard]] Time::duration time_to_room(Time now) const {
    return has_room(now) ? Time::duration::zero() : due_ - now - most_ahead_;
  }
  /// One that was spent doesn't count after all.
  void give_back() { due_ -= step_; }

 private:
  Time::duration step_;
  Time::duration most_ahead_;
  Time due_{};  // when the next would come if all came evenly
};

}  // namespace tagline::access
