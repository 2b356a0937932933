// See schedule_model.hpp.
#include "tests/optimum/schedule_model.hpp"

#include <algorithm>
#include <functional>
#include <limits>
#include <map>
#include <stdexcept>
#include <utility>

#include "tests/optimum/free_times.hpp"
#include "tests/optimum/linear_program.hpp"

namespace tagline::test {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();
/// Solvers count in floating point, s.
constexpr double slack = 0.002;

double seconds(Duration time) { return std::chrono::duration<double>(time).count(); }

// ---- one station, two carts --------------------------------------------------------------------

/// Least time from setting off in `from` until a tag is read in a pose that doesn't clash with
/// `wanted`.
double until_clear(const floor::Track& track, const FreeTimes& free, PoseIx from, PoseIx wanted) {
  const auto times = free.from(from);
  double least = never;
  for (std::uint32_t pose = 0; pose < times.size(); ++pose) {
    if (track.clash({pose}, wanted)) continue;
    least = std::min(least, times[pose] - free.stopping());  // it need not stop there
  }
  return least;
}

/// From the moment at which a cart that stands in `first` sets off to the moment at which another
/// comes to a stand in `second`, at least. Backwards along every way into `second`: the last move
/// begins when `second` can be clear, the one before it when that pose can be clear, and so on up
/// to a pose in which the other cart can have been waiting all along. A cart that has no leave to
/// go on brakes in time, hence stopping twice at least (setting off would take longer).
double least_gap(const floor::Track& track, const FreeTimes& free, PoseIx first, PoseIx second) {
  std::map<PoseIx, double> clear;
  const auto clear_of = [&](PoseIx pose) {
    const auto known = clear.find(pose);
    if (known != clear.end()) return known->second;
    return clear[pose] = until_clear(track, free, first, pose);
  };
  double best = never;
  std::vector<PoseIx> way;
  const std::function<void(PoseIx, double, double)> back = [&](PoseIx pose, double rest,
                                                               double so_far) {
    if (std::ranges::find(way, pose) != way.end()) return;
    way.push_back(pose);
    for (const floor::Move& move : track.ways().moves_to(pose)) {
      const auto v = static_cast<double>(track.floor()[move.segment].speed.value);
      const double drive = rest + static_cast<double>(move.length.value) / v;
      const double gap = std::max(so_far, clear_of(pose) + drive + 2 * free.stopping());
      if (gap >= best) continue;
      if (!track.clash(move.from, first)) {
        best = gap;
      } else {
        back(move.from, drive, gap);
      }
    }
    way.pop_back();
  };
  back(second, 0, 0);
  return best;
}

// ---- tours
// ---------------------------------------------------------------------------------------

struct TimedTour {
  Tour tour;
  std::vector<double> picked, done;  // per job of the tour: begin of loading, end of unloading
  double length{}, sum{};
  [[nodiscard]] double cost(Measure measure) const {
    return measure == Measure::finish ? length : sum;
  }
  [[nodiscard]] unsigned set() const {
    unsigned result = 0;
    for (const std::size_t job : tour.jobs) result |= 1U << job;
    return result;
  }
};

/// Every sequence of every set of jobs for every cart, the empty one included.
std::vector<TimedTour> all_tours(const ScheduleModel& model) {
  std::vector<TimedTour> result;
  for (std::size_t k = 0; k < model.start.size(); ++k) {
    const std::function<void(TimedTour)> extend = [&](const TimedTour& tour) {
      result.push_back(tour);
      for (std::size_t j = 0; j < model.jobs.size(); ++j) {
        if ((tour.set() >> j & 1U) != 0) continue;
        TimedTour longer = tour;
        const double empty =
            tour.tour.jobs.empty() ? model.start[k][j] : model.empty[tour.tour.jobs.back()][j];
        longer.tour.jobs.push_back(j);
        longer.picked.push_back(tour.length + empty);
        longer.length += empty + model.jobs[j].all();
        longer.done.push_back(longer.length);
        longer.sum += longer.length;
        extend(longer);
      }
    };
    extend({{k, {}}, {}, {}, 0, 0});
  }
  return result;
}

double together(Measure measure, double a, double b) {
  return measure == Measure::finish ? std::max(a, b) : a + b;
}

/// best[carts][set]: the least for these jobs with these carts (as bits).
std::vector<std::vector<double>> least_by_sets(const ScheduleModel& model, Measure measure,
                                               const std::vector<TimedTour>& tours) {
  const unsigned cart_sets = 1U << model.start.size();
  const unsigned sets = 1U << model.jobs.size();
  std::vector<std::vector<double>> alone(model.start.size(), std::vector<double>(sets, never));
  for (const TimedTour& tour : tours) {
    double& best = alone[tour.tour.cart][tour.set()];
    best = std::min(best, tour.cost(measure));
  }
  std::vector<std::vector<double>> best(cart_sets, std::vector<double>(sets, never));
  best[0][0] = 0;
  for (unsigned carts = 1; carts < cart_sets; ++carts) {
    std::size_t k = 0;
    while ((carts >> k & 1U) == 0) ++k;
    const auto& rest = best[carts & ~(1U << k)];
    for (unsigned set = 0; set < sets; ++set) {
      for (unsigned mine = set;; mine = (mine - 1) & set) {
        best[carts][set] =
            std::min(best[carts][set], together(measure, alone[k][mine], rest[set & ~mine]));
        if (mine == 0) break;
      }
    }
  }
  return best;
}

using Terms = std::vector<std::pair<std::size_t, double>>;

/// The columns of a set-partitioning program: one tour per cart, each job once.
void partition(LinearProgram& program, const ScheduleModel& model,
               const std::vector<TimedTour>& tours, const std::vector<std::size_t>& columns) {
  for (std::size_t k = 0; k < model.start.size(); ++k) {
    Terms terms;
    for (std::size_t t = 0; t < tours.size(); ++t) {
      if (tours[t].tour.cart == k) terms.emplace_back(columns[t], 1);
    }
    program.rows.push_back({terms, 1, 1});
  }
  for (std::size_t j = 0; j < model.jobs.size(); ++j) {
    Terms terms;
    for (std::size_t t = 0; t < tours.size(); ++t) {
      if ((tours[t].set() >> j & 1U) != 0) terms.emplace_back(columns[t], 1);
    }
    program.rows.push_back({terms, 1, 1});
  }
}

Optimum taken(const ProgramSolution& solution, const std::vector<TimedTour>& tours,
              const std::vector<std::size_t>& columns) {
  Optimum result{solution.bound, solution.complete, {}};
  for (std::size_t t = 0; t < tours.size() && !solution.values.empty(); ++t) {
    if (solution.values[columns[t]] > 0.5) result.tours.push_back(tours[t].tour);
  }
  return result;
}

}  // namespace

ScheduleModel schedule_model(const floor::Track& track, const SmallCase& small) {
  const floor::Ways& ways = track.ways();
  const floor::Floor& floor = track.floor();
  const FreeTimes free{ways};
  const auto poses = [&](StationIx station) { return ways.poses_at(floor[station].point); };
  ScheduleModel model;
  for (const PoseIx start : small.starts) {
    auto& row = model.start.emplace_back();
    const auto times = free.from(start);
    for (const CaseJob& job : small.jobs) {
      double least = never;
      for (const PoseIx pose : poses(job.from)) least = std::min(least, times[pose.value]);
      row.push_back(least);
    }
  }
  std::map<std::pair<StationIx, StationIx>, double> between;
  const auto drive = [&](StationIx from, StationIx to) {
    const auto known = between.find({from, to});
    if (known != between.end()) return known->second;
    return between[{from, to}] = free.least(poses(from), poses(to));
  };
  for (const CaseJob& job : small.jobs) {
    model.jobs.push_back({{job.from.value, job.to.value},
                          {seconds(floor[job.from].load), seconds(floor[job.to].unload)},
                          drive(job.from, job.to)});
    auto& row = model.empty.emplace_back();
    for (const CaseJob& next : small.jobs) row.push_back(drive(job.to, next.from));
  }
  for (const floor::Station& station : floor.stations) {
    double least = never;
    for (const PoseIx first : ways.poses_at(station.point)) {
      for (const PoseIx second : ways.poses_at(station.point)) {
        least = std::min(least, least_gap(track, free, first, second));
      }
    }
    model.gap.push_back(least);
  }
  return model;
}

double length(const ScheduleModel& model, const Tour& tour) {
  double time = 0;
  for (std::size_t i = 0; i < tour.jobs.size(); ++i) {
    time +=
        i == 0 ? model.start[tour.cart][tour.jobs[0]] : model.empty[tour.jobs[i - 1]][tour.jobs[i]];
    time += model.jobs[tour.jobs[i]].all();
  }
  return time;
}

double optimum_by_sets(const ScheduleModel& model, Measure measure) {
  return least_by_sets(model, measure, all_tours(model)).back().back();
}

Optimum optimum_without_stations(const ScheduleModel& model, Measure measure) {
  std::map<std::pair<std::size_t, unsigned>, TimedTour> best;
  for (TimedTour& tour : all_tours(model)) {
    const auto [known, is_new] = best.try_emplace({tour.tour.cart, tour.set()}, tour);
    if (!is_new && tour.cost(measure) < known->second.cost(measure)) known->second = tour;
  }
  std::vector<TimedTour> tours;
  for (auto& [key, tour] : best) tours.push_back(std::move(tour));
  LinearProgram program;
  std::vector<std::size_t> columns;
  for (const TimedTour& tour : tours) {
    columns.push_back(program.choice(measure == Measure::sum ? tour.sum : 0));
  }
  partition(program, model, tours, columns);
  if (measure == Measure::finish) {
    const std::size_t finish = program.number(1);
    for (std::size_t k = 0; k < model.start.size(); ++k) {
      Terms terms{{finish, 1}};
      for (std::size_t t = 0; t < tours.size(); ++t) {
        if (tours[t].tour.cart == k) terms.emplace_back(columns[t], -tours[t].length);
      }
      program.rows.push_back({terms, 0, {}});
    }
  }
  const ProgramSolution solution = solve(program, 60);
  if (!solution.complete || !solution.cost) throw std::runtime_error("GLPK found no optimum");
  return taken(solution, tours, columns);
}

std::optional<Optimum> optimum_with_stations(const ScheduleModel& model, Measure measure,
                                             double reached, double limit) {
  const double most = reached + slack;
  const std::vector<TimedTour> all = all_tours(model);
  const auto least = least_by_sets(model, measure, all);
  const auto carts = static_cast<unsigned>(least.size() - 1);
  const auto jobs = static_cast<unsigned>(least.front().size() - 1);
  // Only tours that can be part of anything as good as what was reached.
  std::vector<TimedTour> tours;
  for (const TimedTour& tour : all) {
    const double rest = least[carts & ~(1U << tour.tour.cart)][jobs & ~tour.set()];
    if (together(measure, tour.cost(measure), rest) <= most) tours.push_back(tour);
  }
  if (tours.empty()) return {};

  LinearProgram program;
  std::vector<std::size_t> columns;
  for (const TimedTour& tour : tours) {
    columns.push_back(program.choice(measure == Measure::sum ? tour.sum : 0));
  }
  partition(program, model, tours, columns);
  const std::size_t n = model.jobs.size();
  // A tour without waiting has its times; waiting adds a delay that its later stops have as well.
  // at[j][0]: begin of loading, at[j][1]: begin of unloading, as terms; late[j][..] the delay.
  std::vector<std::array<Terms, 2>> at(n);
  std::vector<std::array<std::size_t, 2>> late(n);
  std::vector<std::array<double, 2>> latest(n, {0, 0});
  double most_delay = 0;
  double last = 0;
  for (std::size_t j = 0; j < n; ++j) {
    late[j] = {program.number(0), program.number(measure == Measure::sum ? 1 : 0)};
    at[j] = {Terms{{late[j][0], 1}}, Terms{{late[j][1], 1}}};
    double first_done = never;
    double last_done = 0;
    for (std::size_t t = 0; t < tours.size(); ++t) {
      for (std::size_t s = 0; s < tours[t].tour.jobs.size(); ++s) {
        if (tours[t].tour.jobs[s] != j) continue;
        const double done = tours[t].done[s];
        at[j][0].emplace_back(columns[t], tours[t].picked[s]);
        at[j][1].emplace_back(columns[t], done - model.jobs[j].handling[1]);
        first_done = std::min(first_done, done);
        last_done = std::max(last_done, done);
      }
    }
    const double delay = measure == Measure::finish ? most - first_done : most - least[carts][jobs];
    most_delay = std::max(most_delay, delay);
    last = std::max(last, measure == Measure::finish ? most : last_done + delay);
  }
  std::vector<std::vector<Terms>> next(n, std::vector<Terms>(n));
  for (std::size_t t = 0; t < tours.size(); ++t) {
    const auto& sequence = tours[t].tour.jobs;
    for (std::size_t s = 1; s < sequence.size(); ++s) {
      next[sequence[s - 1]][sequence[s]].emplace_back(columns[t], 1);
    }
  }
  const auto add = [](Terms& terms, const Terms& more, double factor) {
    for (const auto& [column, value] : more) terms.emplace_back(column, factor * value);
  };
  // The same column more than once in a row is one term.
  const auto row = [&](const Terms& terms, double at_least) {
    std::map<std::size_t, double> sums;
    for (const auto& [column, value] : terms) sums[column] += value;
    program.rows.push_back({Terms(sums.begin(), sums.end()), at_least, {}});
  };
  for (std::size_t j = 0; j < n; ++j) {
    row({{late[j][1], 1}, {late[j][0], -1}}, 0);
    for (std::size_t i = 0; i < n; ++i) {
      if (next[i][j].empty()) continue;
      Terms terms{{late[j][0], 1}, {late[i][1], -1}};
      add(terms, next[i][j], -most_delay);
      row(terms, -most_delay);
    }
  }
  if (measure == Measure::finish) {
    const std::size_t finish = program.number(1);
    for (std::size_t j = 0; j < n; ++j) {
      Terms terms{{finish, 1}};
      add(terms, at[j][1], -1);
      row(terms, model.jobs[j].handling[1]);
    }
    program.rows.push_back({{{finish, 1}}, {}, most});
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      for (std::size_t a = 0; a < 2; ++a) {
        for (std::size_t b = 0; b < 2; ++b) {
          const std::size_t station = model.jobs[i].station[a];
          if (station != model.jobs[j].station[b]) continue;
          const double gap = model.gap[station];
          const double big = last + gap;
          const std::size_t i_first = program.choice(0);
          // What ends and what begins there one after the other on one cart needs no gap.
          Terms after = at[j][b];
          add(after, at[i][a], -1);
          after.emplace_back(i_first, -big);
          if (a == 1 && b == 0) add(after, next[i][j], gap);
          row(after, model.jobs[i].handling[a] + gap - big);
          Terms before = at[i][a];
          add(before, at[j][b], -1);
          before.emplace_back(i_first, big);
          if (b == 1 && a == 0) add(before, next[j][i], gap);
          row(before, model.jobs[j].handling[b] + gap);
        }
      }
    }
  }
  const ProgramSolution solution = solve(program, limit);
  if (solution.complete && (!solution.cost || *solution.cost > most)) return {};
  Optimum result = taken(solution, tours, columns);
  result.value = std::max(result.value, least[carts][jobs]);
  return result;
}

}  // namespace tagline::test
