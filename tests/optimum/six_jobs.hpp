// A small case, some carts and a fixed list of jobs all asked for at once, and the whole system at
// work on it: the real core, and the simulator's carts with exact motion and its link latency.
#pragma once

#include <cstdint>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::test {

struct CaseJob {
  StationIx from, to;
};
struct SmallCase {
  std::vector<PoseIx> starts;  // one per cart, on sidings
  std::vector<CaseJob> jobs;
};

/// Carts on sidings at random, and jobs drawn from the floor's usual flows (all pairs of stations
/// alike if it names none).
SmallCase random_case(const floor::Track& track, std::size_t carts, std::size_t jobs,
                      std::uint64_t seed);

/// What became of it. Times in s from the moment at which all jobs were asked for.
struct Done {
  struct Job {
    std::size_t cart{};
    /// When the service heard that its load was on, and off.
    double loaded{}, delivered{};
  };
  std::vector<Job> jobs;
  [[nodiscard]] double finish() const;  // the last delivery
  [[nodiscard]] double sum() const;     // of all deliveries
};

/// Throws std::runtime_error if not all is delivered within an hour.
Done run_case(const floor::Track& track, const SmallCase& small);

}  // namespace tagline::test
