// Which jobs each cart is to do one after the other: a look further ahead than the next job.
//
// Minimise  sum over jobs of  weight(j) x (time at which j is delivered),  over all ways to deal
// the jobs out to carts and to put them in sequence, other traffic left out (R || sum w C with
// times between jobs, in the notation of R. L. Graham et al., "Optimization and approximation in
// deterministic sequencing and scheduling", 1979; NP-hard). By best insertion, then moving and
// swapping jobs while that makes it better: for the few jobs and carts of a shop close to the best.
#pragma once

#include <cstddef>
#include <vector>

#include "server/floor/units.hpp"

namespace tagline::dispatch {

struct TourProblem {
  std::vector<Duration> ready;               // per cart
  std::vector<std::vector<Duration>> start;  // [cart][job]: to its pickup; max(): no way
  std::vector<std::vector<Duration>> empty;  // [job][next]: from its end to the pickup of the next
  std::vector<Duration> work;                // per job: loading, driving, unloading
  std::vector<std::int64_t> weight;          // per job, > 0, at most 1000
};

/// Per cart its jobs, in turn. A job that no cart has a way to is in no tour. Deterministic.
std::vector<std::vector<std::size_t>> plan_tours(const TourProblem& problem);

}  // namespace tagline::dispatch
