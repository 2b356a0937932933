// See throughput.hpp.
#include "server/dispatch/throughput.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <stdexcept>
#include <utility>

#include "server/dispatch/free_way.hpp"
#include "server/dispatch/transport_problem.hpp"

namespace tagline::dispatch {
namespace {

constexpr double forever = std::numeric_limits<double>::infinity();
/// Shares become whole units for the transportation problem: this many in all, about.
constexpr double units_in_all = 1e6;
/// Costs become whole microseconds, rounded down: a bound may be too generous, never too tight.
constexpr double per_second = 1e6;
/// So many sets of track are looked at, those first that are busiest if loads go the usual ways;
/// and so many flows say which ways those are. (Any choice gives a true bound.)
constexpr std::size_t most_sets = 48;
constexpr std::size_t most_usual_ways = 500;

using Poses = std::vector<PoseIx>;  // sorted
/// Least times from each stop to each stop, s.
using Table = std::vector<std::vector<double>>;

struct WholeFlow {
  std::size_t from{}, to{};  // stops
  std::int64_t units{};
  double handling{};  // s
};

double seconds(Duration time) { return std::chrono::duration<double>(time).count(); }

bool has(const Poses& poses, PoseIx pose) {
  return std::binary_search(poses.begin(), poses.end(), pose);
}

/// The flows of one floor between its stops: the points at which stations are.
class Works {
 public:
  Works(const floor::Track& track, const std::vector<Flow>& flows)
      : track_{track}, ways_{track.ways()}, free_way_{track.ways()} {
    double sum = 0;
    for (const Flow& flow : flows) {
      if (!(flow.share >= 0)) throw std::invalid_argument("a flow's share must not be negative");
      sum += flow.share;
    }
    if (!(sum > 0)) throw std::invalid_argument("there are no flows between stations");
    const floor::Floor& floor = track.floor();
    for (const Flow& flow : flows) {
      if (flow.share == 0) continue;
      const auto units = std::max<std::int64_t>(1, std::llround(flow.share / sum * units_in_all));
      flows_.push_back({stop_at(floor[flow.from].point), stop_at(floor[flow.to].point), units,
                        seconds(floor[flow.from].load + floor[flow.to].unload)});
      stations_.emplace_back(flow.from, flow.to);
      total_ += units;
    }
  }

  [[nodiscard]] Table times(const Poses* within) const {
    Table table;
    for (const PointIx from : stops_) {
      const std::vector<double> reached = free_way_.from(ways_.poses_at(from), within);
      std::vector<double>& row = table.emplace_back();
      for (const PointIx to : stops_) {
        double least = no_way;
        for (const PoseIx pose : ways_.poses_at(to)) least = std::min(least, reached[pose.value]);
        row.push_back(least);
      }
    }
    return table;
  }

  void check_ways(const Table& free) const {
    for (std::size_t f = 0; f < flows_.size(); ++f) {
      if (free[flows_[f].from][flows_[f].to] < no_way) continue;
      throw std::invalid_argument("no way leads from \"" + name(stations_[f].first) + "\" to \"" +
                                  name(stations_[f].second) + "\"");
    }
  }

  [[nodiscard]] double mean_loaded(const Table& table) const {
    return mean([&](const WholeFlow& flow) { return table[flow.from][flow.to]; });
  }
  [[nodiscard]] double mean_handling() const {
    return mean([](const WholeFlow& flow) { return flow.handling; });
  }
  /// The part of the handling during which `poses` are surely occupied.
  [[nodiscard]] double mean_handling_in(const Poses& poses) const {
    std::vector<bool> within;
    for (const PointIx stop : stops_) {
      const auto at = ways_.poses_at(stop);
      within.push_back(std::all_of(at.begin(), at.end(), [&](PoseIx p) { return has(poses, p); }));
    }
    const floor::Floor& floor = track_.floor();
    double sum = 0;
    for (std::size_t f = 0; f < flows_.size(); ++f) {
      double time = 0;
      if (within[flows_[f].from]) time += seconds(floor[stations_[f].first].load);
      if (within[flows_[f].to]) time += seconds(floor[stations_[f].second].unload);
      sum += time * static_cast<double>(flows_[f].units);
    }
    return sum / static_cast<double>(total_);
  }

  [[nodiscard]] double mean_empty(const Table& table) const {
    TransportProblem problem;
    problem.supply.assign(stops_.size(), 0);
    problem.demand.assign(stops_.size(), 0);
    for (const WholeFlow& flow : flows_) {
      problem.supply[flow.to] += flow.units;
      problem.demand[flow.from] += flow.units;
    }
    // A cart that is unloaded where loads begin takes the next one there. With one pose at that
    // stop this is never worse than an exchange, because a way over it has a stop in it.
    for (std::size_t s = 0; s < stops_.size(); ++s) {
      if (ways_.poses_at(stops_[s]).size() != 1) continue;
      const std::int64_t stay = std::min(problem.supply[s], problem.demand[s]);
      problem.supply[s] -= stay;
      problem.demand[s] -= stay;
    }
    for (const std::vector<double>& row : table) {
      auto& costs = problem.cost.emplace_back();
      for (const double time : row) {
        costs.push_back(time < no_way ? std::optional<std::int64_t>{static_cast<std::int64_t>(
                                            std::floor(time * per_second))}
                                      : std::nullopt);
      }
    }
    const auto cost = least_cost(problem);
    if (!cost) throw std::invalid_argument(no_way_back(table));
    return static_cast<double>(*cost) / per_second / static_cast<double>(total_);
  }

  /// Mean driving time per delivery of each move, s, if every load goes the quickest way from the
  /// first pose at its stop. In the order of Ways::moves_from over all poses.
  [[nodiscard]] std::vector<std::pair<floor::Move, double>> usual_ways() const {
    std::vector<WholeFlow> flows = flows_;
    std::ranges::stable_sort(flows, std::ranges::greater{}, &WholeFlow::units);
    if (flows.size() > most_usual_ways) flows.resize(most_usual_ways);
    std::map<std::pair<PoseIx, PoseIx>, double> use;
    for (const WholeFlow& flow : flows) {
      const auto route = floor::shortest_route(
          ways_, ways_.poses_at(stops_[flow.from]).front(),
          [&](PoseIx pose) { return ways_[pose].at == stops_[flow.to]; },
          [](PoseIx) { return true; });
      if (!route) continue;  // there is one from another pose
      for (std::size_t i = 1; i < route->steps.size(); ++i) {
        use[{route->steps[i - 1], route->steps[i]}] += static_cast<double>(flow.units);
      }
    }
    std::vector<std::pair<floor::Move, double>> result;
    for (const auto& [ends, units] : use) {
      const floor::Move& move = *ways_.find_move(ends.first, ends.second);
      result.emplace_back(move, units / static_cast<double>(total_) * seconds(move.time));
    }
    return result;
  }

 private:
  template <class Time>
  [[nodiscard]] double mean(const Time& time) const {
    double sum = 0;
    for (const WholeFlow& flow : flows_) sum += time(flow) * static_cast<double>(flow.units);
    return sum / static_cast<double>(total_);
  }

  std::size_t stop_at(PointIx point) {
    const auto known = std::find(stops_.begin(), stops_.end(), point);
    if (known != stops_.end()) return static_cast<std::size_t>(known - stops_.begin());
    stops_.push_back(point);
    return stops_.size() - 1;
  }

  [[nodiscard]] const std::string& name(StationIx station) const {
    return track_.floor()[station].id;
  }

  /// Says where the empty carts are stuck.
  [[nodiscard]] std::string no_way_back(const Table& table) const {
    for (std::size_t f = 0; f < flows_.size(); ++f) {
      const auto& row = table[flows_[f].to];
      if (std::none_of(flows_.begin(), flows_.end(),
                       [&](const WholeFlow& flow) { return row[flow.from] < no_way; })) {
        return "no way leads from \"" + name(stations_[f].second) + "\" to where loads begin";
      }
    }
    return "some carts have no way back from where loads end to where loads begin";
  }

  const floor::Track& track_;
  const floor::Ways& ways_;
  FreeWay free_way_;
  std::vector<PointIx> stops_;
  std::vector<WholeFlow> flows_;
  std::vector<std::pair<StationIx, StationIx>> stations_;  // of each flow
  std::int64_t total_{};
};

/// For each piece, the poses that cover it, and others as long as every two of them clash.
std::map<Poses, PieceIx> exclusive_sets(const floor::Track& track) {
  std::vector<Poses> covering(track.piece_count());
  for (std::uint32_t p = 0; p < track.ways().pose_count(); ++p) {
    for (const PieceIx piece : track.cover(PoseIx{p})) covering[piece.value].push_back({p});
  }
  std::map<Poses, PieceIx> sets;
  for (std::uint32_t piece = 0; piece < covering.size(); ++piece) {
    Poses set = covering[piece];
    if (set.empty()) continue;
    const auto near = track.clashes(set.front());
    for (const PoseIx more : Poses(near.begin(), near.end())) {
      const bool fits =
          std::all_of(set.begin(), set.end(), [&](PoseIx pose) { return track.clash(pose, more); });
      if (fits && !has(set, more)) set.insert(std::upper_bound(set.begin(), set.end(), more), more);
    }
    sets.emplace(std::move(set), PieceIx{piece});
  }
  return sets;
}

struct Occupied {
  const Poses* set{};
  PieceIx piece{};
  double time{};  // s per delivery
};

std::optional<Occupied> busiest_of(const floor::Track& track, const Works& works) {
  const auto sets = exclusive_sets(track);
  const auto usual = works.usual_ways();
  std::vector<Occupied> found;
  for (const auto& [set, piece] : sets) {
    double time = works.mean_handling_in(set);
    for (const auto& [move, use] : usual) {
      if (has(set, move.from) || has(set, move.to)) time += use;
    }
    found.push_back({&set, piece, time});
  }
  std::ranges::stable_sort(found, std::ranges::greater{}, &Occupied::time);
  if (found.size() > most_sets) found.resize(most_sets);
  for (Occupied& occupied : found) {
    const Table times = works.times(occupied.set);
    occupied.time =
        works.mean_handling_in(*occupied.set) + works.mean_loaded(times) + works.mean_empty(times);
  }
  const auto busiest = std::ranges::max_element(found, {}, &Occupied::time);
  if (busiest == found.end() || busiest->time <= 0) return std::nullopt;
  return Occupied{nullptr, busiest->piece, busiest->time};
}

double per_hour(double count, double time) { return time > 0 ? 3600 * count / time : forever; }

}  // namespace

std::vector<Flow> flows_of(const floor::Floor& floor) {
  std::vector<Flow> flows;
  for (const floor::Demand& demand : floor.demand) {
    if (demand.per_hour > 0) flows.push_back({demand.from, demand.to, demand.per_hour});
  }
  if (!flows.empty()) return flows;
  for (std::uint32_t from = 0; from < floor.stations.size(); ++from) {
    for (std::uint32_t to = 0; to < floor.stations.size(); ++to) {
      // Between two stations at one place there is nothing to move.
      if (floor.stations[from].point != floor.stations[to].point) {
        flows.push_back({{from}, {to}, 1.0});
      }
    }
  }
  return flows;
}

Throughput throughput_bound(const floor::Track& track, const std::vector<Flow>& flows,
                            std::size_t carts) {
  const Works works{track, flows};
  const Table free = works.times(nullptr);
  works.check_ways(free);
  Throughput result;
  result.handling_s = works.mean_handling();
  result.loaded_s = works.mean_loaded(free);
  result.empty_s = works.mean_empty(free);
  result.fleet_per_hour =
      per_hour(static_cast<double>(carts), result.handling_s + result.loaded_s + result.empty_s);
  result.track_per_hour = forever;
  if (const auto busiest = busiest_of(track, works)) {
    result.busiest = busiest->piece;
    result.busiest_s = busiest->time;
    result.track_per_hour = per_hour(1, busiest->time);
  }
  result.per_hour = std::min(result.fleet_per_hour, result.track_per_hour);
  return result;
}

}  // namespace tagline::dispatch
