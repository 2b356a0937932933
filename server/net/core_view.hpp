// What the core looks like from outside: snapshots of what an event changed, and of everything a
// part at a time, so that what creeps (a reason to wait, a time that is expected) is seen too.
#pragma once

#include <chrono>
#include <vector>

#include "server/control/core.hpp"
#include "server/net/views.hpp"

namespace tagline::net {

/// Used on the thread that owns the core.
class CoreView {
 public:
  using Steady = std::chrono::steady_clock;

  /// The core must outlive it. `station_count` is the floor's.
  CoreView(const control::Core& core, std::size_t station_count)
      : core_(core), station_count_(station_count) {}

  /// Ended jobs too.
  Views everything();
  Views after(const control::Event& event, const control::Outcome& outcome);

  /// The next part of a round over all that is live. However large the fleet, a part takes a
  /// fraction of a millisecond, so that no read of a tag waits long behind it.
  Views next_part();
  /// From one part to the next: a round takes half a second.
  [[nodiscard]] Steady::duration pause() const;

 private:
  /// Works out when jobs are expected to come about: that of `first`, or else the next ones of a
  /// round over all that carts have. Does nothing if it was done lately: where much of the fleet
  /// has to be looked at for one job it takes milliseconds, and all must take a small share of the
  /// time.
  void look_ahead(const control::Job* first);
  void begin_to_look_ahead();
  void expect(const control::Job& job);
  JobShown view(const control::Job& job);
  void begin_round();

  const control::Core& core_;
  std::size_t station_count_;
  AllExpected expected_;
  Steady::time_point look_ahead_due_{};
  std::vector<control::JobId> to_look_ahead_;
  // The round: the next cart, and what is left of the jobs that were open when it began.
  std::uint32_t next_cart_{0};
  std::vector<control::JobId> jobs_left_;
  std::size_t in_a_part_{1};
  std::size_t parts_{1};
};

}  // namespace tagline::net
