// Where the jobs of a simulated run come from: which pair of stations is next, and when.
#pragma once

#include <optional>
#include <vector>

#include "server/floor/floor.hpp"
#include "server/sim/random.hpp"

namespace tagline::sim {

/// A stream of loads between two stations; `weight` in any unit, > 0.
struct JobFlow {
  StationIx from, to;
  double weight{};
};

/// The floor's demand; every ordered pair of stations alike if it names none.
std::vector<JobFlow> job_flows(const floor::Floor& floor);

class JobSource {
 public:
  /// Throws std::invalid_argument if there are no flows.
  JobSource(std::vector<JobFlow> flows, Random random);

  /// A pair at random, each as often as its weight says.
  const JobFlow& draw();
  /// The next of a shuffled deck that holds each pair exactly in proportion: over any long stretch
  /// the mix can't drift. What a deck can't hold in whole cards is carried over to the next one.
  const JobFlow& deal();
  /// Time to the next job of a Poisson stream of `per_hour` jobs, s.
  double gap(double per_hour);

 private:
  std::vector<JobFlow> flows_;
  Random random_;
  double total_{0};
  std::vector<double> owed_;
  std::vector<std::size_t> deck_;
};

}  // namespace tagline::sim
