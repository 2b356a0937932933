// The best that any control could do with a small case: which cart does which jobs in which
// sequence, as a mixed-integer program. Takes no part of the planner, the guard or the dispatcher.
//
// What the model holds to: each cart drives from its start, from stand to stand, in the least times
// of FreeTimes (the best of all ways and all poses in which it can stand at a station), and is
// handled for the station's times; each job is done by one cart, load and unload; and, if asked,
// no two carts are at one station within what the rule of held track (I1 to I3) needs between them:
// the first must have read a tag from which it is clear of the track that the second needs.
// What it leaves out, so that it is a lower bound and perhaps no control reaches it: all other
// shared track (merges, crossings, corridors, carts behind one another), parked carts in the way,
// the link's latency, and that carts don't know jobs to come.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "server/floor/track.hpp"
#include "tests/optimum/six_jobs.hpp"

namespace tagline::test {

/// What the model is made of. Times in s.
struct ScheduleModel {
  /// start[k][j]: cart k from its start to the pickup of job j.
  std::vector<std::vector<double>> start;
  /// empty[i][j]: from where job i ends to the pickup of job j.
  std::vector<std::vector<double>> empty;
  struct Job {
    std::array<std::size_t, 2> station;  // from, to
    std::array<double, 2> handling{};
    double drive{};
    [[nodiscard]] double all() const { return handling[0] + drive + handling[1]; }
  };
  std::vector<Job> jobs;
  /// Per station, from the end of one cart's handling to the start of another's, at least.
  std::vector<double> gap;
};
ScheduleModel schedule_model(const floor::Track& track, const SmallCase& small);

/// The jobs of one cart, in turn.
struct Tour {
  std::size_t cart{};
  std::vector<std::size_t> jobs;
};

/// When the cart has done its tour, if nobody is in its way.
double length(const ScheduleModel& model, const Tour& tour);

/// What is to be least.
enum class Measure {
  finish,  // the time of the last delivery
  sum,     // the sum of the times of all deliveries
};

struct Optimum {
  /// No control is better. The optimum of the model if `proven`, else the best bound known.
  double value{};
  bool proven{};
  std::vector<Tour> tours;
};

/// Stations as wide as need be. A set-partitioning program over the best tour of each cart for each
/// set of jobs, by GLPK.
Optimum optimum_without_stations(const ScheduleModel& model, Measure measure);

/// The same by dynamic programming over sets of jobs (M. Held, R. M. Karp, "A dynamic programming
/// approach to sequencing problems", 1962), to see that the program says what it should.
double optimum_by_sets(const ScheduleModel& model, Measure measure);

/// One cart at a station at a time. `reached`: a value that somebody has reached, which keeps the
/// program small; nothing comes back if the model allows nothing so good.
std::optional<Optimum> optimum_with_stations(const ScheduleModel& model, Measure measure,
                                             double reached, double seconds);

}  // namespace tagline::test
