// What the core looks like from outside: snapshots of what an event changed, and of everything a
// part at a time, so that what creeps (a reason to wait, a time that is expected) is seen too.
#pragma once

#include <chrono>
#include <map>
#include <vector>

#include "server/control/core.hpp"
#include "server/net/release.hpp"

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
  using AllExpected = std::map<control::JobId, control::Expected>;

  /// The forecast over all carts is the one thing that can't be done in parts. It is made anew at
  /// most so often that it takes a small share of the time.
  const AllExpected& expected();
  [[nodiscard]] CartShown view(CartIx cart) const { return {core_.cart(cart), core_.why(cart)}; }
  JobShown view(const control::Job& job);
  void view_loads(StationIx station, Views& into) const;
  void view_rest(Views& into) const;
  void begin_round();

  const control::Core& core_;
  std::size_t station_count_;
  AllExpected expected_;
  Steady::time_point expected_due_{};
  // The round: the next cart, and what is left of the jobs that were open when it began.
  std::uint32_t next_cart_{0};
  std::vector<control::JobId> jobs_left_;
  std::size_t parts_{1};
};

}  // namespace tagline::net
