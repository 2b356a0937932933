// See capacity.hpp.
#include "server/traffic/capacity.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "server/floor/travel_times.hpp"
#include "server/traffic/moving_on.hpp"

namespace tagline::traffic {
namespace {

/// Above this the search for jams takes too long; floors of that size have sidings.
constexpr std::size_t most_poses = 2'000;

class Endpoints {
 public:
  explicit Endpoints(const floor::Track& track) : track_(track), ways_(track.ways()) {
    const std::vector<bool> all(ways_.pose_count(), true);
    for (const floor::Station& station : track.floor().stations) {
      if (!ways_.poses_at(station.point).empty()) stations_.push_back(station.point);
    }
    for (std::size_t a = 0; a < stations_.size(); ++a) {
      const auto to = floor::times_to(ways_, ways_.poses_at(stations_[a]), all);
      possible_.emplace_back();
      for (std::size_t b = 0; b < stations_.size(); ++b) {
        possible_.back().push_back(least(to, stations_[b]) != Duration::max());
      }
    }
  }

  /// A cart resting at `rest` while all `others` are taken: a station it can't serve, if any. What
  /// can't be reached on an empty floor either is another matter.
  [[nodiscard]] std::optional<PointIx> cut_off(PoseIx rest,
                                               const std::vector<PoseIx>& others) const {
    std::vector<bool> open(ways_.pose_count(), true);
    for (const PoseIx other : others) {
      if (other == rest) continue;
      for (const PoseIx pose : track_.clashes(other)) open[pose.value] = false;
    }
    if (!open[rest.value]) return ways_[rest].at;
    const auto home = floor::times_to(ways_, std::span(&rest, 1), open);
    for (std::size_t s = 0; s < stations_.size(); ++s) {
      const auto to = floor::times_to(ways_, open_poses(stations_[s], open), open);
      if (to[rest.value] == Duration::max() || least(home, stations_[s], open) == Duration::max()) {
        return stations_[s];
      }
      for (std::size_t other = 0; other < stations_.size(); ++other) {
        if (possible_[s][other] && least(to, stations_[other], open) == Duration::max()) {
          return stations_[s];
        }
      }
    }
    return {};
  }

  /// Some station can be reached from there, and it from some station, over an empty floor.
  [[nodiscard]] bool comes_and_goes(PoseIx rest) const {
    const std::vector<bool> all(ways_.pose_count(), true);
    const auto out = floor::times_from(ways_, rest, [](PoseIx) { return true; });
    const auto home = floor::times_to(ways_, std::span(&rest, 1), all);
    const auto any = [&](const std::vector<Duration>& times) {
      return std::ranges::any_of(
          stations_, [&](PointIx station) { return least(times, station) != Duration::max(); });
    };
    return any(out) && any(home);
  }

  /// With all `rests` taken at once every station can still be reached from every other one, and
  /// each rest reaches a station and is reached from one past the others. Then none is cut off:
  /// quicker to see than by asking cut_off() for each.
  [[nodiscard]] bool surely_none_cut_off(const std::vector<PoseIx>& rests) const {
    if (stations_.empty()) return false;
    std::vector<std::uint32_t> taken_by(ways_.pose_count(), 0);
    for (const PoseIx rest : rests) {
      for (const PoseIx pose : track_.clashes(rest)) ++taken_by[pose.value];
    }
    std::vector<bool> open(ways_.pose_count());
    for (std::size_t p = 0; p < open.size(); ++p) open[p] = taken_by[p] == 0;
    for (std::size_t a = 0; a < stations_.size(); ++a) {
      const auto to = floor::times_to(ways_, open_poses(stations_[a], open), open);
      for (std::size_t b = 0; b < stations_.size(); ++b) {
        if (possible_[a][b] && least(to, stations_[b], open) == Duration::max()) return false;
      }
    }
    const auto serves = [&](const std::vector<Duration>& times, const std::vector<bool>& free) {
      return std::ranges::any_of(stations_, [&](PointIx station) {
        return least(times, station, free) != Duration::max();
      });
    };
    return std::ranges::all_of(rests, [&](PoseIx rest) {
      std::vector<bool> free = open;
      for (const PoseIx pose : track_.clashes(rest)) free[pose.value] = taken_by[pose.value] == 1;
      if (taken_by[rest.value] != 1) return false;
      const auto out = floor::times_from(
          ways_, rest, [&](PoseIx pose) { return static_cast<bool>(free[pose.value]); });
      return serves(out, free) && serves(floor::times_to(ways_, std::span(&rest, 1), free), free);
    });
  }

  /// From every place that can be reached from a station, all stations can be reached.
  [[nodiscard]] bool all_connected() const {
    if (stations_.empty()) return false;
    const std::vector<bool> all(ways_.pose_count(), true);
    std::vector<bool> reached(ways_.pose_count(), false);
    std::vector<PoseIx> todo;
    for (const PointIx station : stations_) {
      for (const PoseIx pose : ways_.poses_at(station)) {
        reached[pose.value] = true;
        todo.push_back(pose);
      }
    }
    while (!todo.empty()) {
      const PoseIx pose = todo.back();
      todo.pop_back();
      for (const floor::Move& move : ways_.moves_from(pose)) {
        if (reached[move.to.value]) continue;
        reached[move.to.value] = true;
        todo.push_back(move.to);
      }
    }
    return std::ranges::all_of(stations_, [&](PointIx station) {
      const auto to = floor::times_to(ways_, ways_.poses_at(station), all);
      for (std::size_t p = 0; p < reached.size(); ++p) {
        if (reached[p] && to[p] == Duration::max()) return false;
      }
      return true;
    });
  }

 private:
  [[nodiscard]] Duration least(const std::vector<Duration>& times, PointIx point) const {
    Duration best = Duration::max();
    for (const PoseIx pose : ways_.poses_at(point)) best = std::min(best, times[pose.value]);
    return best;
  }
  [[nodiscard]] Duration least(const std::vector<Duration>& times, PointIx point,
                               const std::vector<bool>& open) const {
    Duration best = Duration::max();
    for (const PoseIx pose : open_poses(point, open)) best = std::min(best, times[pose.value]);
    return best;
  }
  [[nodiscard]] std::vector<PoseIx> open_poses(PointIx point, const std::vector<bool>& open) const {
    std::vector<PoseIx> poses;
    for (const PoseIx pose : ways_.poses_at(point)) {
      if (open[pose.value]) poses.push_back(pose);
    }
    return poses;
  }

  const floor::Track& track_;
  const floor::Ways& ways_;
  std::vector<PointIx> stations_;
  std::vector<std::vector<bool>> possible_;  // [to][from]
};

LiveLimit by_sidings(const floor::Track& track) {
  const floor::Floor& floor = track.floor();
  const Endpoints endpoints(track);
  LiveLimit limit;
  for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
    if (!floor.points[p].siding || floor.points[p].tags.empty()) continue;
    const auto poses = track.ways().poses_at({p});
    const auto good =
        std::ranges::find_if(poses, [&](PoseIx pose) { return endpoints.comes_and_goes(pose); });
    if (good != poses.end()) limit.rests.push_back(*good);
  }
  limit.reason = limit.rests.empty()
                     ? "There is no siding from which all stations can be served and which can be "
                       "reached again."
                     : "Each cart needs a siding of its own to come to rest on, and there is no "
                       "further one.";
  // Give up sidings that cut others off, the most harmful first.
  while (!limit.rests.empty() && !endpoints.surely_none_cut_off(limit.rests)) {
    std::vector<std::pair<PoseIx, PointIx>> cut;
    for (const PoseIx rest : limit.rests) {
      if (const auto station = endpoints.cut_off(rest, limit.rests))
        cut.emplace_back(rest, *station);
    }
    if (cut.empty()) break;
    std::size_t worst = 0;
    std::size_t fewest = cut.size() + limit.rests.size();
    for (std::size_t i = 0; i < limit.rests.size(); ++i) {
      auto without = limit.rests;
      without.erase(without.begin() + static_cast<std::ptrdiff_t>(i));
      const auto still = static_cast<std::size_t>(std::ranges::count_if(
          without, [&](PoseIx rest) { return endpoints.cut_off(rest, without).has_value(); }));
      if (still < fewest) {
        fewest = still;
        worst = i;
      }
    }
    const auto id = [&](PoseIx pose) { return floor[track.ways()[pose].at].id; };
    limit.reason = "A cart resting at " + id(limit.rests[worst]) + " would cut the one at " +
                   id(cut.front().first) + " off from " + floor[cut.front().second].id + ".";
    limit.rests.erase(limit.rests.begin() + static_cast<std::ptrdiff_t>(worst));
  }
  limit.carts = limit.rests.size();
  return limit;
}

}  // namespace

LiveLimit live_limit(const floor::Track& track) {
  LiveLimit sidings = by_sidings(track);
  if (track.ways().pose_count() > most_poses || track.ways().pose_count() == 0 ||
      !Endpoints(track).all_connected()) {
    return sidings;
  }
  const auto jam = fewest_in_a_jam(track);
  if (!jam || *jam - 1 <= sidings.carts) return sidings;
  return {*jam - 1, std::move(sidings.rests),
          std::to_string(*jam) +
              " carts can stand so that each is in the way of another one all round, and then "
              "nobody can move; a siding for each cart would help."};
}

}  // namespace tagline::traffic
