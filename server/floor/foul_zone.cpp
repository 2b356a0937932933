// See foul_zone.hpp.
#include "server/floor/foul_zone.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tagline::floor {
namespace {

constexpr std::size_t most_ways = 32;
constexpr double step = 10;   // mm between bodies put down
constexpr double fine = 0.1;  // mm

Polyline tape_to(const Ways& ways, PoseIx pose) {
  return tape_of(ways.floor(), ways[pose].by, ways[pose].reversed);
}

/// No corner of the outline is further than this from the reader.
double reach(const CartBody& body) {
  return std::hypot(static_cast<double>(body.length.value), static_cast<double>(body.width.value)) +
         static_cast<double>(body.reader_to_nose.value);
}

struct Back {
  std::vector<PoseIx> poses;  // from the last one backwards
  double length{};
};

std::vector<Back> ways_back(const Ways& ways, PoseIx pose, double enough) {
  std::vector<Back> done;
  std::vector<Back> open{{{pose}, tape_to(ways, pose).length()}};
  while (!open.empty() && done.size() + open.size() <= most_ways) {
    Back back = std::move(open.back());
    open.pop_back();
    bool goes_on = false;
    if (back.length < enough) {
      for (const Move& move : ways.moves_to(back.poses.back())) {
        if (move.gear == Gear::back || move.turn_round) continue;
        Back longer = back;
        longer.poses.push_back(move.from);
        longer.length += tape_to(ways, move.from).length();
        open.push_back(std::move(longer));
        goes_on = true;
      }
    }
    if (!goes_on) done.push_back(std::move(back));
  }
  for (Back& back : open) done.push_back(std::move(back));  // too many: as far as they got
  return done;
}

}  // namespace

std::vector<WayIn> ways_into(const Ways& ways, PoseIx pose, double enough, std::optional<Move> on) {
  std::vector<WayIn> result;
  for (const Back& back : ways_back(ways, pose, enough)) {
    WayIn way;
    for (auto p = back.poses.rbegin(); p != back.poses.rend(); ++p) {
      way.path.append(tape_to(ways, *p));
    }
    way.arrives = way.path.length();
    if (on) way.path.append(tape_to(ways, on->to));
    result.push_back(std::move(way));
  }
  return result;
}

std::vector<Outline> bodies_along(const CartBody& body, const std::vector<WayIn>& ways,
                                  double first, double last) {
  std::vector<Outline> bodies;
  for (const WayIn& way : ways) {
    const double from = std::max(first, -way.arrives);
    const auto steps = static_cast<int>(std::ceil(std::max(0.0, last - from) / step));
    for (int i = 0; i <= steps; ++i) {
      // Counted from the end, so that the point itself is met where it is the end.
      bodies.push_back(body_on(body, way.path, way.arrives + std::max(from, last - i * step)));
    }
  }
  return bodies;
}

std::optional<double> foul_distance(const CartBody& body, const std::vector<WayIn>& ways,
                                    double ahead, double search,
                                    const std::vector<Outline>& others) {
  const double clearance = static_cast<double>(body.clearance.value);
  const double near = 2 * reach(body) + clearance;
  const auto fouls = [&](const WayIn& way, double before) {
    const Outline here = body_on(body, way.path, way.arrives + ahead - before);
    return std::any_of(others.begin(), others.end(), [&](const Outline& other) {
      if (distance(here.corners[0], other.corners[0]) > near) return false;
      const double apart = gap(here, other);
      return apart <= 0 || apart < clearance - gap_rounding;
    });
  };
  double most = 0;
  for (const WayIn& way : ways) {
    const double limit = std::min(search, way.arrives + ahead);
    double last = -1;  // where it fouled last
    double clear = 0;
    while (clear <= limit && fouls(way, clear)) {
      last = clear;
      clear += step;
    }
    if (clear > limit) return std::nullopt;
    if (last < 0) continue;
    while (clear - last > fine) {
      const double middle = (last + clear) / 2;
      (fouls(way, middle) ? last : clear) = middle;
    }
    most = std::max(most, clear);
  }
  return most;
}

}  // namespace tagline::floor
