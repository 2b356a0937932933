// The holding rule on random floors, by sampling of its own: bodies are put down at random, by
// hand-made chains of tape and Boost.Geometry polygons, and every two that come closer than the
// clearance must hold a common piece or a conflicting pair. And the other way round: pieces in
// conflict are close.
#include <gtest/gtest.h>

#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <cmath>
#include <numbers>
#include <random>
#include <set>

#include "server/floor/polyline.hpp"
#include "tests/support/random_floor.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::floor {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
using BgBody = bg::model::polygon<BgPoint>;
using BgLine = bg::model::linestring<BgPoint>;

struct Placed {
  BgBody body;
  bg::model::box<BgPoint> box;
  std::vector<PieceIx> held;
  std::string what;
};

/// Puts carts down at random wherever the floor lets them be.
class Placer {
 public:
  Placer(const test::Site& site, std::uint32_t seed) : site_{site}, random_{seed} {}

  /// A cart in some situation of a random pose.
  Placed any() {
    const PoseIx pose{static_cast<std::uint32_t>(below(site_.ways.pose_count()))};
    const auto moves = forward_moves(site_.ways.moves_from(pose));
    if (moves.empty() || chance(0.3)) return standing(pose);
    const Move move = moves[below(moves.size())];
    if (move.turn_round && chance(0.5)) return turning(move);
    return driving(move);
  }

 private:
  double unit() { return std::uniform_real_distribution<double>{0, 1}(random_); }
  bool chance(double p) { return unit() < p; }
  std::size_t below(std::size_t n) {
    return std::uniform_int_distribution<std::size_t>{0, n - 1}(random_);
  }

  static std::vector<Move> forward_moves(std::span<const Move> moves) {
    std::vector<Move> result;
    for (const Move& move : moves) {
      if (move.gear == Gear::forward) result.push_back(move);
    }
    return result;
  }

  [[nodiscard]] Polyline tape(PoseIx pose) const {
    return tape_of(site_.floor, site_.ways[pose].by, site_.ways[pose].reversed);
  }

  /// Tapes a cart has behind it that arrives in `pose`, the last one being that to `pose`; long
  /// enough, or cut off where it turned on the spot or nothing leads.
  std::vector<Polyline> history(PoseIx pose, double enough) {
    std::vector<Polyline> tapes{tape(pose)};
    double length = tapes.back().length();
    while (length < enough) {
      const auto into = forward_moves(site_.ways.moves_to(pose));
      if (into.empty()) break;
      const Move move = into[below(into.size())];
      if (move.turn_round) break;
      pose = move.from;
      tapes.push_back(tape(pose));
      length += tapes.back().length();
    }
    std::reverse(tapes.begin(), tapes.end());
    return tapes;
  }

  Placed standing(PoseIx pose) {
    std::vector<Polyline> tapes = history(pose, 4000);
    TapePath path;
    for (const Polyline& t : tapes) path.append(t);
    const double at = path.length();
    PoseIx last = pose;
    while (path.length() < at + 300) {  // the way on, for the overrun
      std::vector<Move> on = forward_moves(site_.ways.moves_from(last));
      std::erase_if(on, [](const Move& move) { return move.turn_round; });
      if (on.empty() || (last == pose && chance(0.2))) break;
      last = on[below(on.size())].to;
      path.append(tape(last));
    }
    // The most and least overrun matter most.
    const double slack = static_cast<double>(stop_slack.value);
    const double overrun = chance(0.3) ? slack : chance(0.3) ? -slack : slack * (2 * unit() - 1);
    return place(path, at + overrun, site_.track.cover(pose), {}, "standing at " + name(pose));
  }

  Placed driving(const Move& move) {
    TapePath path;
    if (!move.turn_round) {
      for (const Polyline& t : history(move.from, 4000)) path.append(t);
    }
    const double start = path.length();
    path.append(tape(move.to));
    const double reader = start + unit() * static_cast<double>(move.length.value);
    return place(path, reader, site_.track.cover(move.from), site_.track.cover(move.to),
                 "driving " + name(move.from) + " -> " + name(move.to));
  }

  Placed turning(const Move& move) {
    const Position centre = site_.floor[site_.ways[move.from].at].at;
    const double heading = 2 * std::numbers::pi * unit();
    const double half = static_cast<double>(site_.floor.cart.length.value) / 2;
    return make(centre.x + half * std::cos(heading), centre.y + half * std::sin(heading), heading,
                site_.track.cover(move.from), site_.track.cover(move.to),
                "turning at " + name(move.from));
  }

  Placed place(const TapePath& path, double reader, std::span<const PieceIx> a,
               std::span<const PieceIx> b, const std::string& what) {
    const CartBody& cart = site_.floor.cart;
    const double tail_behind = static_cast<double>((cart.length - cart.reader_to_nose).value);
    const Position r = path.at(reader).at;
    const Position t = path.at(reader - tail_behind).at;
    const double heading = std::atan2(r.y - t.y, r.x - t.x);
    const double ahead = static_cast<double>(cart.reader_to_nose.value);
    return make(r.x + ahead * std::cos(heading), r.y + ahead * std::sin(heading), heading, a, b,
                what + " reader " + std::to_string(reader));
  }

  /// A body by the middle of its front edge and its heading.
  Placed make(double nose_x, double nose_y, double heading, std::span<const PieceIx> a,
              std::span<const PieceIx> b, std::string what) const {
    const double length = static_cast<double>(site_.floor.cart.length.value);
    const double half = static_cast<double>(site_.floor.cart.width.value) / 2;
    Placed placed;
    placed.what = std::move(what);
    for (const auto& [back, left] : {std::pair{0.0, -half}, std::pair{length, -half},
                                     std::pair{length, half}, std::pair{0.0, half}}) {
      bg::append(placed.body.outer(),
                 BgPoint{nose_x - back * std::cos(heading) - left * std::sin(heading),
                         nose_y - back * std::sin(heading) + left * std::cos(heading)});
    }
    bg::correct(placed.body);
    bg::envelope(placed.body, placed.box);
    placed.held.assign(a.begin(), a.end());
    placed.held.insert(placed.held.end(), b.begin(), b.end());
    return placed;
  }

  [[nodiscard]] std::string name(PoseIx pose) const {
    return site_.floor[site_.ways[pose].at].id + " by " + site_.floor[site_.ways[pose].by].id;
  }

  const test::Site& site_;
  std::mt19937 random_;
};

bool kept_apart(const test::Site& site, const Placed& a, const Placed& b) {
  const std::set<PieceIx> of_b(b.held.begin(), b.held.end());
  for (const PieceIx piece : a.held) {
    if (of_b.contains(piece)) return true;
    for (const PieceIx other : site.track.conflicts(piece)) {
      if (of_b.contains(other)) return true;
    }
  }
  return false;
}

bool closer_than(const Placed& a, const Placed& b, double clearance) {
  if (a.box.max_corner().x() + clearance < b.box.min_corner().x() ||
      b.box.max_corner().x() + clearance < a.box.min_corner().x() ||
      a.box.max_corner().y() + clearance < b.box.min_corner().y() ||
      b.box.max_corner().y() + clearance < a.box.min_corner().y()) {
    return false;
  }
  return bg::distance(a.body, b.body) < clearance - 0.01;
}

TEST(Soundness, BodiesTooCloseAlwaysHoldACommonPieceOrAConflict) {
  std::size_t close = 0;
  std::size_t by_conflict_only = 0;
  for (std::uint32_t seed = 1; seed <= 25; ++seed) {
    const test::Site site{test::random_floor(seed, {12, 3500})};
    if (site.ways.pose_count() == 0) continue;
    const double clearance = static_cast<double>(site.floor.cart.clearance.value);
    Placer placer{site, seed};
    std::vector<Placed> placed;
    for (int i = 0; i < 200; ++i) placed.push_back(placer.any());
    for (std::size_t i = 0; i < placed.size(); ++i) {
      for (std::size_t j = i + 1; j < placed.size(); ++j) {
        if (!kept_apart(site, placed[i], placed[j])) {
          ASSERT_FALSE(closer_than(placed[i], placed[j], clearance))
              << "seed " << seed << ": " << placed[i].what << " and " << placed[j].what
              << " are apart by " << bg::distance(placed[i].body, placed[j].body) << " mm";
          continue;
        }
        const std::set<PieceIx> of_i(placed[i].held.begin(), placed[i].held.end());
        const bool shared = std::any_of(placed[j].held.begin(), placed[j].held.end(),
                                        [&](PieceIx piece) { return of_i.contains(piece); });
        // The costly distance only where it tells something: enough of these were real.
        if (!shared && by_conflict_only < 3000 && closer_than(placed[i], placed[j], clearance)) {
          ++by_conflict_only;
        }
        if (shared) ++close;
      }
    }
  }
  RecordProperty("shared", static_cast<int>(close));
  RecordProperty("too_close_and_in_conflict", static_cast<int>(by_conflict_only));
  EXPECT_GT(by_conflict_only, 1000u) << "the floors put too few bodies to the test";
}

BgLine line_of(const test::Site& site, PieceIx piece) {
  BgLine line;
  const auto add = [&](Position p) { bg::append(line, BgPoint{p.x, p.y}); };
  if (site.track.is_point(piece)) {
    add(site.floor.points[piece.value].at);
    add(site.floor.points[piece.value].at);
    return line;
  }
  const Segment& segment = site.floor.segments[piece.value - site.floor.points.size()];
  add(site.floor[segment.from].at);
  for (const Position& corner : segment.via) add(corner);
  add(site.floor[segment.to].at);
  return line;
}

TEST(Soundness, PiecesInConflictAreNoFurtherApartThanTwoBodies) {
  std::size_t in_conflict = 0;
  std::size_t free = 0;
  for (std::uint32_t seed = 1; seed <= 10; ++seed) {
    const test::Site site{test::random_floor(seed, {40, 15'000})};
    const CartBody& cart = site.floor.cart;
    // No part of a body is further from its reader than its diagonal, no reader further from its
    // piece than the slack; a turning body stays within the same distance of its point.
    const double reach =
        std::hypot(static_cast<double>(cart.length.value), static_cast<double>(cart.width.value)) +
        static_cast<double>(stop_slack.value);
    const double furthest = 2 * reach + static_cast<double>(cart.clearance.value);
    for (std::uint32_t i = 0; i < site.track.piece_count(); ++i) {
      for (std::uint32_t j = i + 1; j < site.track.piece_count(); ++j) {
        const auto of_i = site.track.conflicts(PieceIx{i});
        if (!std::binary_search(of_i.begin(), of_i.end(), PieceIx{j})) {
          ++free;
          continue;
        }
        ++in_conflict;
        const double apart = bg::distance(line_of(site, PieceIx{i}), line_of(site, PieceIx{j}));
        EXPECT_LT(apart, furthest) << "seed " << seed << ": " << site.track.name(PieceIx{i})
                                   << " and " << site.track.name(PieceIx{j});
      }
    }
  }
  EXPECT_GT(in_conflict, 300u);
  EXPECT_GT(free, 10 * in_conflict);
}

}  // namespace
}  // namespace tagline::floor
