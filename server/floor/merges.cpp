// See merges.hpp.
#include "server/floor/merges.hpp"

#include <algorithm>
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/linestring.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/index/rtree.hpp>
#include <cmath>
#include <iterator>
#include <map>
#include <tuple>
#include <utility>

#include "server/floor/foul_zone.hpp"

namespace tagline::floor {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
using BgLine = bg::model::linestring<BgPoint>;
using BgBox = bg::model::box<BgPoint>;

/// Nobody waits further away than this, mm.
constexpr std::int64_t farthest_wait = 30'000;

Mm whole(double mm) { return Mm{static_cast<std::int64_t>(std::ceil(mm - 0.05))}; }

/// Tape and direction a move drives, alike for every pose a spur is entered from.
std::pair<SegmentIx, bool> tape_of_move(const Ways& ways, const Move& move) {
  return {move.segment, ways[move.to].reversed};
}

/// The moves of `b` onto tape that `a` can go on to as well.
std::vector<Move> common_moves(const Ways& ways, PoseIx a, PoseIx b) {
  std::vector<Move> common;
  const auto of_a = moves_on(ways, a);
  for (const Move& move : moves_on(ways, b)) {
    if (std::any_of(of_a.begin(), of_a.end(), [&](const Move& other) {
          return tape_of_move(ways, other) == tape_of_move(ways, move);
        })) {
      common.push_back(move);
    }
  }
  return common;
}

bool meet(const Ways& ways, PoseIx a, PoseIx b) {
  if (ways[a].by == ways[b].by) return false;
  if (moves_on(ways, a).empty() && moves_on(ways, b).empty()) return true;
  return !common_moves(ways, a, b).empty();
}

/// How far back a body on the way to `a` fouls one that comes by `b` and goes on where `a` can.
std::optional<double> foul_at_merge(const Ways& ways, PoseIx a, PoseIx b) {
  const CartBody& body = ways.floor().cart;
  const double tail = reader_to_tail(body);
  std::vector<Outline> others =
      bodies_along(body, ways_into(ways, b, foul_search + tail), -foul_search, 0);
  for (const Move& on : common_moves(ways, a, b)) {
    const auto more = bodies_along(body, ways_into(ways, b, tail, on), 0, tail);
    others.insert(others.end(), more.begin(), more.end());
  }
  return foul_distance(body, ways_into(ways, a, foul_search + tail), 0, foul_search, others);
}

Approach approach_to(const Track& track, PoseIx a, const std::vector<PoseIx>& rivals,
                     const std::vector<bool>& used) {
  const Ways& ways = track.ways();
  Approach approach{a, Mm{0}, {}};
  std::vector<PoseIx> others;
  for (const PoseIx b : rivals) {
    others.push_back(b);
    for (const Move& on : common_moves(ways, a, b)) others.push_back(on.to);
    const auto foul = foul_at_merge(ways, a, b);
    if (!foul) {
      approach.foul.reset();
    } else if (approach.foul) {
      approach.foul = std::max(*approach.foul, whole(*foul));
    }
  }
  approach.wait = last_wait_before(track, a, others, used);
  return approach;
}

BgLine line_of(const Floor& floor, SegmentIx s) {
  BgLine line;
  const auto add = [&](Position p) { line.emplace_back(p.x, p.y); };
  add(floor[floor[s].from].at);
  std::for_each(floor[s].via.begin(), floor[s].via.end(), add);
  add(floor[floor[s].to].at);
  return line;
}

bool share_an_end(const Segment& a, const Segment& b) {
  return a.from == b.from || a.from == b.to || a.to == b.from || a.to == b.to;
}

/// Driven distance along the tape at which it comes nearest to `place`.
double driven_to(const Polyline& tape, Position place) {
  double best = 0;
  double least = distance(tape.at(0).at, place);
  const auto steps = static_cast<int>(std::ceil(tape.length()));
  for (int i = 1; i <= steps; ++i) {
    const double driven = std::min(static_cast<double>(i), tape.length());
    const double apart = distance(tape.at(driven).at, place);
    if (apart < least) {
      least = apart;
      best = driven;
    }
  }
  return best;
}

std::vector<PoseIx> poses_by(const Ways& ways, SegmentIx segment) {
  std::vector<PoseIx> poses;
  for (const PointIx end : {ways.floor()[segment].to, ways.floor()[segment].from}) {
    for (const PoseIx pose : ways.poses_at(end)) {
      if (ways[pose].by == segment) poses.push_back(pose);
    }
  }
  return poses;
}

/// The approaches of one segment to the place where it crosses another.
void add_approaches(const Track& track, SegmentIx own, SegmentIx other, Position at,
                    const std::vector<bool>& used, std::vector<Approach>& approaches) {
  const Ways& ways = track.ways();
  const CartBody& body = ways.floor().cart;
  const double tail = reader_to_tail(body);
  std::vector<PoseIx> rivals = poses_by(ways, other);
  std::vector<Outline> others;
  for (const PoseIx pose : rivals) {
    const Polyline tape = tape_of(ways.floor(), other, ways[pose].reversed);
    // Up to where the tail has left the place, straight on or by any tape beyond.
    const double past = driven_to(tape, at) - tape.length();
    const double last = past + tail + static_cast<double>((body.length + body.clearance).value);
    const auto add = [&](const std::vector<WayIn>& in) {
      const auto more = bodies_along(body, in, past - foul_search, last);
      others.insert(others.end(), more.begin(), more.end());
    };
    const auto on = moves_on(ways, pose);
    if (last <= 0 || on.empty()) add(ways_into(ways, pose, foul_search + tail));
    for (const Move& move : on) {
      if (last > 0) add(ways_into(ways, pose, foul_search + tail, move));
    }
  }
  const std::size_t of_the_other = rivals.size();
  for (std::size_t i = 0; i < of_the_other; ++i) {
    for (const Move& into : ways.moves_to(rivals[i])) rivals.push_back(into.from);
  }
  for (const PoseIx pose : poses_by(ways, own)) {
    const Polyline tape = tape_of(ways.floor(), own, ways[pose].reversed);
    const double past = driven_to(tape, at) - tape.length();
    Approach approach{pose, {}, {}};
    const auto foul =
        foul_distance(body, ways_into(ways, pose, foul_search + tail), past, foul_search, others);
    if (foul) approach.foul = whole(*foul);
    approach.wait = last_wait_before(track, pose, rivals, used);
    if (approach.wait) approach.wait->before += Mm{std::llround(past)};
    approaches.push_back(approach);
  }
}

}  // namespace

std::vector<Move> moves_on(const Ways& ways, PoseIx pose) {
  std::vector<Move> moves;
  for (const Move& move : ways.moves_from(pose)) {
    if (move.gear == Gear::forward && !move.turn_round) moves.push_back(move);
  }
  return moves;
}

std::optional<WaitingPlace> last_wait_before(const Track& track, PoseIx at,
                                             const std::vector<PoseIx>& others,
                                             const std::vector<bool>& used) {
  const Ways& ways = track.ways();
  const auto forks = [&](PoseIx pose) {
    const auto moves = ways.moves_from(pose);
    return std::count_if(moves.begin(), moves.end(),
                         [&](const Move& move) { return used.empty() || used[move.to.value]; }) > 1;
  };
  struct Walk {
    PoseIx pose;
    Mm before;
    bool at_fork{};
  };
  std::optional<WaitingPlace> worst;
  std::vector<Walk> open{{at, Mm{0}, false}};
  std::map<PoseIx, Mm> seen{{at, Mm{0}}};
  while (!open.empty()) {
    const Walk walk = open.back();
    open.pop_back();
    bool goes_on = false;
    for (const Move& into : ways.moves_to(walk.pose)) {
      if (into.gear == Gear::back) continue;
      goes_on = true;
      const Walk next{into.from, walk.before + into.length, walk.at_fork || forks(into.from)};
      const bool clear = std::none_of(others.begin(), others.end(),
                                      [&](PoseIx other) { return track.clash(other, next.pose); });
      if (clear && !ways.floor()[ways[next.pose].at].tags.empty()) {
        const WaitingPlace found{next.pose, next.before, next.at_fork};
        if (!worst ||
            std::tie(worst->at_fork, worst->before) < std::tie(found.at_fork, found.before)) {
          worst = found;
        }
        continue;
      }
      if (next.before > Mm{farthest_wait}) return std::nullopt;
      // A way round that comes back to itself has no waiting place but those found elsewhere.
      const auto known = seen.find(next.pose);
      if (known != seen.end()) continue;
      seen.emplace(next.pose, next.before);
      open.push_back(next);
    }
    if (!goes_on) return std::nullopt;  // the tape begins here
  }
  return worst;
}

std::vector<Merge> find_merges(const Track& track, const std::vector<bool>& used) {
  const Ways& ways = track.ways();
  std::vector<Merge> merges;
  for (std::uint32_t p = 0; p < ways.floor().points.size(); ++p) {
    const auto poses = ways.poses_at(PointIx{p});
    Merge merge{PointIx{p}, {}};
    for (const PoseIx a : poses) {
      std::vector<PoseIx> rivals;
      std::copy_if(poses.begin(), poses.end(), std::back_inserter(rivals),
                   [&](PoseIx b) { return meet(ways, a, b); });
      if (!rivals.empty()) merge.approaches.push_back(approach_to(track, a, rivals, used));
    }
    if (!merge.approaches.empty()) merges.push_back(std::move(merge));
  }
  return merges;
}

std::vector<Crossing> find_crossings(const Track& track, const std::vector<bool>& used) {
  const Floor& floor = track.floor();
  std::vector<BgLine> lines;
  std::vector<std::pair<BgBox, std::uint32_t>> boxes;
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    lines.push_back(line_of(floor, SegmentIx{s}));
    boxes.emplace_back(bg::return_envelope<BgBox>(lines.back()), s);
  }
  const bg::index::rtree<std::pair<BgBox, std::uint32_t>, bg::index::quadratic<16>> tree{boxes};
  std::vector<Crossing> crossings;
  for (std::uint32_t a = 0; a < lines.size(); ++a) {
    std::vector<std::pair<BgBox, std::uint32_t>> near;
    tree.query(bg::index::intersects(boxes[a].first), std::back_inserter(near));
    std::sort(near.begin(), near.end(),
              [](const auto& x, const auto& y) { return x.second < y.second; });
    for (const auto& [box, b] : near) {
      if (b <= a || share_an_end(floor.segments[a], floor.segments[b])) continue;
      std::vector<BgPoint> places;
      bg::intersection(lines[a], lines[b], places);
      if (places.empty()) continue;
      Crossing crossing{{a}, {b}, {places.front().x(), places.front().y()}, {}};
      add_approaches(track, crossing.first, crossing.second, crossing.at, used,
                     crossing.approaches);
      add_approaches(track, crossing.second, crossing.first, crossing.at, used,
                     crossing.approaches);
      crossings.push_back(std::move(crossing));
    }
  }
  return crossings;
}

}  // namespace tagline::floor
