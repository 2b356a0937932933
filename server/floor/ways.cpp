// The pose graph of a floor: see ways.hpp.
#include "server/floor/ways.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "server/floor/polyline.hpp"

namespace tagline::floor {
namespace {

/// Spur ends are one pose per way in; a floor whose spurs part and meet again could make them
/// without end.
constexpr std::size_t most_poses = 1'000'000;

/// Headings at both ends of every segment, in its own direction.
struct Headings {
  explicit Headings(const Floor& floor) {
    for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
      const Polyline tape = tape_of(floor, SegmentIx{s});
      at_from.push_back(tape.start_heading());
      at_to.push_back(tape.end_heading());
    }
  }
  /// Heading of a cart that has just come along the segment.
  [[nodiscard]] double arriving(SegmentIx s, bool reversed) const {
    return reversed ? at_from[s.value] + std::numbers::pi : at_to[s.value];
  }
  [[nodiscard]] double leaving(SegmentIx s, bool reversed) const {
    return reversed ? at_to[s.value] + std::numbers::pi : at_from[s.value];
  }
  std::vector<double> at_from, at_to;
};

/// A segment as it can be left `at` a point.
struct Departure {
  SegmentIx segment;
  bool reversed{false};
};

std::vector<std::vector<Departure>> departures_by_point(const Floor& floor) {
  std::vector<std::vector<Departure>> result(floor.points.size());
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    const Segment& segment = floor.segments[s];
    result[segment.from.value].push_back({SegmentIx{s}, false});
    if (segment.two_way && !segment.spur) {
      result[segment.to.value].push_back({SegmentIx{s}, true});
    }
  }
  return result;
}

constexpr std::array branches{Branch::left, Branch::straight, Branch::right};

/// How badly a branch names a turn of `degrees` to the left: straight for small turns, left and
/// right from 30 degrees on, the line between them at 15 degrees (common practice, no source).
/// Convex, so that the best naming of several tapes is always in the order of their angles.
double misnaming(Branch branch, double degrees) {
  const auto square = [](double v) { return v * v; };
  switch (branch) {
    case Branch::left:
      return square(std::max(0.0, 30.0 - degrees));
    case Branch::right:
      return square(std::max(0.0, 30.0 + degrees));
    case Branch::straight:
      break;
  }
  return square(degrees);
}

/// One tape out of a fork, seen by a cart that stands before it.
struct Option {
  double degrees{};  // left is positive
  std::optional<Branch> fixed;
  Branch branch{Branch::straight};
};

/// Pairs of options whose branches run the other way than their angles.
int crossed_names(const std::vector<Option>& options) {
  int crossed = 0;
  for (const Option& a : options) {
    for (const Option& b : options) {
      if (a.degrees > b.degrees && a.branch > b.branch) ++crossed;
    }
  }
  return crossed;
}

/// Names the options of one fork: all different where there are at most three and the fixed ones
/// allow it; otherwise each as it lies.
void name_branches(std::vector<Option>& options) {
  std::vector<Option*> open;
  std::vector<Branch> free(branches.begin(), branches.end());
  for (Option& option : options) {
    if (option.fixed) {
      option.branch = *option.fixed;
      std::erase(free, option.branch);
    } else {
      open.push_back(&option);
    }
  }
  if (open.size() > free.size()) {
    for (Option* option : open) {
      option->branch = *std::min_element(branches.begin(), branches.end(), [&](Branch a, Branch b) {
        return misnaming(a, option->degrees) < misnaming(b, option->degrees);
      });
    }
    return;
  }
  // At most 3! ways to hand out the free names: try them all.
  std::sort(free.begin(), free.end());
  std::vector<Branch> best = free;
  std::pair<int, double> least{std::numeric_limits<int>::max(), 0};
  const auto hand_out = [&](const std::vector<Branch>& names) {
    for (std::size_t i = 0; i < open.size(); ++i) open[i]->branch = names[i];
  };
  do {
    hand_out(free);
    double cost = 0;
    for (const Option* option : open) cost += misnaming(option->branch, option->degrees);
    const std::pair<int, double> badness{crossed_names(options), cost};
    if (badness < least) {
      least = badness;
      best = free;
    }
  } while (std::next_permutation(free.begin(), free.end()));
  hand_out(best);
}

double degrees_of(double radians) { return radians * 180 / std::numbers::pi; }

bool sharp(double degrees) { return std::abs(degrees) > sharpest_corner_deg + 1e-6; }

/// Makes the poses, then the moves, of one Ways.
class WaysBuilder {
 public:
  WaysBuilder(const Floor& floor, std::vector<Pose>& poses)
      : floor_{floor},
        poses_{poses},
        headings_{floor},
        departures_{departures_by_point(floor)},
        pose_of_(2 * floor.segments.size()) {}

  std::vector<Move> build() {
    make_plain_poses();
    std::vector<Move> moves;
    // Spur poses are appended while we walk: a spur may lead into a further spur.
    for (std::uint32_t p = 0; p < poses_.size(); ++p) {
      add_moves_from(PoseIx{p}, moves);
    }
    std::sort(moves.begin(), moves.end(), [](const Move& a, const Move& b) {
      return std::tie(a.from, a.to) < std::tie(b.from, b.to);
    });
    return moves;
  }

 private:
  void make_plain_poses() {
    for (std::uint32_t s = 0; s < floor_.segments.size(); ++s) {
      const Segment& segment = floor_.segments[s];
      if (segment.spur) continue;
      pose_of_[2 * s] = add_pose({segment.to, SegmentIx{s}, false, {}});
      if (segment.two_way) {
        pose_of_[2 * s + 1] = add_pose({segment.from, SegmentIx{s}, true, {}});
      }
    }
  }

  PoseIx add_pose(Pose pose) {
    if (poses_.size() == most_poses) {
      throw std::length_error(
          "the floor's spurs part and meet in too many ways; make each spur a plain dead end");
    }
    poses_.push_back(pose);
    return {static_cast<std::uint32_t>(poses_.size() - 1)};
  }

  [[nodiscard]] bool has_entered(PoseIx pose, SegmentIx spur) const {
    for (std::optional<PoseIx> p = pose; p; p = poses_[p->value].entry) {
      if (poses_[p->value].by == spur) return true;
    }
    return false;
  }

  [[nodiscard]] Move move_along(PoseIx from, PoseIx to, SegmentIx segment) const {
    const Segment& s = floor_[segment];
    Move move;
    move.from = from;
    move.to = to;
    move.segment = segment;
    move.length = s.length;
    move.time = time_to_drive(s.length, std::min(s.speed, floor_.cart.speed));
    return move;
  }

  void add_moves_from(PoseIx from, std::vector<Move>& moves) {
    const Pose pose = poses_[from.value];  // a copy: poses_ grows below
    std::vector<Move> driven_on, turned;
    std::vector<Option> options_on, options_turned;
    for (const Departure& departure : departures_[pose.at.value]) {
      const Segment& segment = floor_[departure.segment];
      if (pose.entry && !segment.spur) continue;  // out of a spur only the way it came
      if (segment.spur && has_entered(from, departure.segment)) continue;
      const double degrees =
          degrees_of(turn_between(headings_.arriving(pose.by, pose.reversed),
                                  headings_.leaving(departure.segment, departure.reversed)));
      const bool straight_back =
          departure.segment == pose.by && departure.reversed != pose.reversed;
      const bool turn = straight_back || sharp(degrees);
      // Into a spur no cart turns: it could not back out to the pose it came from.
      if (turn && (segment.spur || !floor_[pose.at].turn_round)) continue;
      const PoseIx to = segment.spur
                            ? add_pose({segment.to, departure.segment, false, from})
                            : pose_of_[2 * departure.segment.value + (departure.reversed ? 1 : 0)];
      Move move = move_along(from, to, departure.segment);
      if (turn) {
        move.turn_round = true;
        move.time += turn_round_time;
        turned.push_back(move);
        // Seen by the cart after its half turn.
        options_turned.push_back(
            {degrees_of(turn_between(std::numbers::pi, degrees * std::numbers::pi / 180)), {}});
      } else {
        driven_on.push_back(move);
        options_on.push_back(
            {degrees, departure.reversed ? std::optional<Branch>{} : segment.turn});
      }
    }
    const auto hand_over = [&](std::vector<Move>& named, std::vector<Option>& options) {
      name_branches(options);
      for (std::size_t i = 0; i < named.size(); ++i) {
        named[i].branch = options[i].branch;
        moves.push_back(named[i]);
      }
    };
    hand_over(driven_on, options_on);
    hand_over(turned, options_turned);
    if (pose.entry) {
      Move back = move_along(from, *pose.entry, pose.by);
      back.gear = Gear::back;
      moves.push_back(back);
    }
  }

  const Floor& floor_;
  std::vector<Pose>& poses_;
  Headings headings_;
  std::vector<std::vector<Departure>> departures_;
  std::vector<PoseIx> pose_of_;  // 2 * segment + reversed -> its pose; unused for spurs
};

}  // namespace

Ways::Ways(const Floor& floor) : floor_{&floor} {
  moves_out_ = WaysBuilder{floor, poses_}.build();
  moves_in_ = moves_out_;
  std::sort(moves_in_.begin(), moves_in_.end(), [](const Move& a, const Move& b) {
    return std::tie(a.to, a.from) < std::tie(b.to, b.from);
  });
  out_start_.assign(poses_.size() + 1, 0);
  in_start_.assign(poses_.size() + 1, 0);
  for (const Move& move : moves_out_) {
    ++out_start_[move.from.value + 1];
    ++in_start_[move.to.value + 1];
  }
  for (std::size_t p = 0; p < poses_.size(); ++p) {
    out_start_[p + 1] += out_start_[p];
    in_start_[p + 1] += in_start_[p];
  }
  at_point_.resize(floor.points.size());
  for (std::uint32_t p = 0; p < poses_.size(); ++p) {
    at_point_[poses_[p].at.value].push_back(PoseIx{p});
  }
}

std::span<const Move> Ways::moves_from(PoseIx pose) const {
  return std::span{moves_out_}.subspan(out_start_[pose.value],
                                       out_start_[pose.value + 1] - out_start_[pose.value]);
}

std::span<const Move> Ways::moves_to(PoseIx pose) const {
  return std::span{moves_in_}.subspan(in_start_[pose.value],
                                      in_start_[pose.value + 1] - in_start_[pose.value]);
}

const Move* Ways::find_move(PoseIx from, PoseIx to) const {
  for (const Move& move : moves_from(from)) {
    if (move.to == to) return &move;
  }
  return nullptr;
}

std::span<const PoseIx> Ways::poses_at(PointIx point) const { return at_point_[point.value]; }

PointIx Ways::came_from(PoseIx pose) const {
  const Pose& p = poses_[pose.value];
  const Segment& segment = (*floor_)[p.by];
  return p.reversed ? segment.to : segment.from;
}

}  // namespace tagline::floor
