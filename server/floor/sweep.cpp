// Swept bodies: see sweep.hpp.
//
// Between two corners of the tape, reader and tail each move on a straight line, so the body
// between two near placements stays within the rectangle round both, but for an error of second
// order in the angle it turns, which is added as a margin. Straight tape needs one rectangle.
#include "server/floor/sweep.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>
#include <utility>

namespace tagline::floor {
namespace {

/// A stretch of driving is halved until the rectangle round it is at most this much wider than the
/// body and the body turns at most this much, or it is as short as `finest_step`.
constexpr double widest_excess = 12.0;                         // mm
constexpr double largest_turn = 5.0 * std::numbers::pi / 180;  // rad
constexpr double finest_step = 4.0;                            // mm
/// Keeps rectangles small against the cells in which near ones are looked for.
constexpr double longest_step = 2000.0;  // mm

double mm(Mm length) { return static_cast<double>(length.value); }

struct Placement {
  Outline outline;
  double chord{};
  double heading{};
};

struct Extent {
  double least{std::numeric_limits<double>::infinity()};
  double most{-std::numeric_limits<double>::infinity()};
  void take(double v) {
    least = std::min(least, v);
    most = std::max(most, v);
  }
};

/// Covers the placements of a body for reader distances from `first` to `last`.
/// `reader_at`, `tail_at`: driven distance of the reader -> spot of reader, tail.
template <class ReaderAt, class TailAt>
class LegSweeper {
 public:
  LegSweeper(const CartBody& body, ReaderAt reader_at, TailAt tail_at, Sweep& sweep)
      : body_{body}, reader_at_{reader_at}, tail_at_{tail_at}, sweep_{sweep} {}

  void cover(double first, double last) {
    const double middle = (first + last) / 2;
    const Placement a = place(first, middle);
    const Placement b = place(last, middle);
    const double turn = turn_between(a.heading, b.heading);
    const double axis = a.heading + turn / 2;
    const double ux = std::cos(axis);
    const double uy = std::sin(axis);
    Extent along, across;
    for (const Placement* p : {&a, &b}) {
      for (const Position& c : p->outline.polygon()) {
        along.take(c.x * ux + c.y * uy);
        across.take(c.y * ux - c.x * uy);
      }
    }
    const double step = last - first;
    const double excess = across.most - across.least - mm(body_.width);
    const bool coarse = std::abs(turn) > largest_turn || excess > widest_excess;
    if (step > longest_step || (coarse && step > finest_step)) {
      cover(first, middle);
      cover(middle, last);
      return;
    }
    const auto corner = [&](double l, double c) {
      return Position{l * ux - c * uy, l * uy + c * ux};
    };
    sweep_.push_back({{corner(along.least, across.least), corner(along.most, across.least),
                       corner(along.most, across.most), corner(along.least, across.most)},
                      4,
                      margin(a.chord, b.chord, std::abs(turn))});
  }

 private:
  [[nodiscard]] Placement place(double reader, double heading_from) const {
    Spot r = reader_at_(reader);
    const Spot t = tail_at_(reader);
    // At a corner the heading is that of the far leg; this leg's is wanted.
    r.heading = reader_at_(heading_from).heading;
    const double dx = r.at.x - t.at.x;
    const double dy = r.at.y - t.at.y;
    const double chord = std::hypot(dx, dy);
    return {body_outline(body_, r, t), chord, chord > 1e-6 ? std::atan2(dy, dx) : r.heading};
  }

  /// How far a body in between may stick out of the rectangle round both ends: the arc of a body
  /// end over its chord, and its uneven pace along it when reader and tail close in on each other.
  [[nodiscard]] double margin(double chord_a, double chord_b, double turn) const {
    const double least = std::max(1.0, std::min(chord_a, chord_b));
    const double uneven = std::max(chord_a, chord_b) / least - 1;
    return mm(body_.length) * std::min(1.0, turn * turn / 8 + turn * uneven);
  }

  const CartBody& body_;
  ReaderAt reader_at_;
  TailAt tail_at_;
  Sweep& sweep_;
};

bool drives_on(const Move& move) { return move.gear == Gear::forward && !move.turn_round; }

}  // namespace

bool has_way_in(const Ways& ways, PoseIx pose) {
  const auto moves = ways.moves_to(pose);
  return std::any_of(moves.begin(), moves.end(),
                     [](const Move& move) { return move.gear == Gear::forward; });
}

Sweeper::Sweeper(const Ways& ways) : ways_{&ways} {
  const Floor& floor = ways.floor();
  tapes_.reserve(2 * floor.segments.size());
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    tapes_.push_back(tape_of(floor, SegmentIx{s}, false));
    tapes_.push_back(tape_of(floor, SegmentIx{s}, true));
  }
}

Sweep Sweeper::driving(const Move& move) const {
  const Move* way = &move;
  PoseIx to = move.to;
  if (move.gear == Gear::back) {
    way = ways_->find_move(move.to, move.from);
    to = move.from;
  }
  Sweep sweep;
  add_drive(to, way, 0, mm(move.length), sweep);
  return sweep;
}

Sweep Sweeper::driving_from_nowhere(PoseIx pose) const {
  Sweep sweep;
  add_drive(pose, nullptr, 0, tape_to(pose).length(), sweep);
  return sweep;
}

Sweep Sweeper::turning(const Move& move) const {
  const Floor& floor = ways_->floor();
  return {turning_circle(floor.cart, floor[(*ways_)[move.from].at].at)};
}

Sweep Sweeper::standing(PoseIx pose, Mm slack) const {
  Sweep sweep;
  add_arriving(pose, mm(slack), sweep);
  add_leaving(pose, mm(slack), sweep);
  return sweep;
}

bool Sweeper::tail_may_be_off_tape(PoseIx pose) const {
  const auto moves = ways_->moves_to(pose);
  return !has_way_in(*ways_, pose) ||
         std::any_of(moves.begin(), moves.end(), [](const Move& move) { return move.turn_round; });
}

const Polyline& Sweeper::tape_to(PoseIx pose) const {
  const Pose& p = (*ways_)[pose];
  return tapes_[2 * p.by.value + (p.reversed ? 1 : 0)];
}

std::vector<Sweeper::Stretch> Sweeper::stretches_before(PoseIx pose, const Move* move) const {
  const Floor& floor = ways_->floor();
  const auto length_to = [&](PoseIx p) { return floor[(*ways_)[p].by].length; };
  const bool off_tape = move != nullptr ? move->turn_round : tail_may_be_off_tape(pose);
  std::vector<Stretch> result{{pose, -mm(length_to(pose)), off_tape}};
  // Different ways of equal length to one tape are one stretch: without that, many short tapes
  // that part and meet again would count every way between them.
  std::set<std::pair<PoseIx, Mm>> seen;
  std::vector<std::pair<PoseIx, Mm>> to_visit;
  const auto visit = [&](PoseIx p, Mm behind) {
    if (mm(behind) < reader_to_tail(floor.cart) && seen.emplace(p, behind).second) {
      to_visit.emplace_back(p, behind);
    }
  };
  const auto visit_before = [&](PoseIx p, Mm behind) {
    for (const Move& into : ways_->moves_to(p)) {
      if (drives_on(into)) visit(into.from, behind);
    }
  };
  if (move == nullptr) {
    visit_before(pose, Mm{0});
  } else if (drives_on(*move)) {
    visit(move->from, Mm{0});
  }
  while (!to_visit.empty()) {
    const auto [p, behind] = to_visit.back();
    to_visit.pop_back();
    result.push_back({p, mm(behind), tail_may_be_off_tape(p)});
    visit_before(p, behind + length_to(p));
  }
  return result;
}

void Sweeper::add_drive(PoseIx to, const Move* move, double first, double last,
                        Sweep& sweep) const {
  for (const Stretch& tail : stretches_before(to, move)) add_leg(to, tail, first, last, sweep);
}

void Sweeper::add_leg(PoseIx to, const Stretch& tail, double first, double last,
                      Sweep& sweep) const {
  const CartBody& body = ways_->floor().cart;
  const Polyline& reader_tape = tape_to(to);
  const Polyline& tail_tape = tape_to(tail.pose);
  // With the reader at s, the tail is at s - shift on its own tape. Where that is the reader's
  // tape too, both may be beyond its end, straight on.
  const double shift = reader_to_tail(body) - tail.behind - tail_tape.length();
  if (!tail.endless) first = std::max(first, shift);
  if (tail.pose != to || tail.behind >= 0) last = std::min(last, shift + tail_tape.length());
  if (first >= last) return;

  std::vector<double> bends{first, last};
  const auto take = [&](double bend) {
    if (bend > first && bend < last) bends.push_back(bend);
  };
  for (const double corner : reader_tape.corner_distances()) take(corner);
  for (const double corner : tail_tape.corner_distances()) take(corner + shift);
  std::sort(bends.begin(), bends.end());
  LegSweeper leg{body, [&](double s) { return reader_tape.at(s); },
                 [&](double s) { return tail_tape.at(s - shift); }, sweep};
  for (std::size_t i = 1; i < bends.size(); ++i) {
    if (bends[i] - bends[i - 1] > 1e-6) leg.cover(bends[i - 1], bends[i]);
  }
}

void Sweeper::add_arriving(PoseIx pose, double slack, Sweep& sweep) const {
  const double length = tape_to(pose).length();
  add_drive(pose, nullptr, std::max(0.0, length - slack), length, sweep);
  if (length >= slack) return;
  for (const Move& move : ways_->moves_to(pose)) {
    if (drives_on(move)) add_arriving(move.from, slack - length, sweep);
  }
}

void Sweeper::add_leaving(PoseIx pose, double slack, Sweep& sweep) const {
  const double end = tape_to(pose).length();
  add_drive(pose, nullptr, end, end + slack, sweep);
  for (const Move& move : ways_->moves_from(pose)) {
    if (!drives_on(move)) continue;
    const double length = mm(move.length);
    add_drive(move.to, &move, 0, std::min(slack, length), sweep);
    if (length < slack) add_leaving(move.to, slack - length, sweep);
  }
}

}  // namespace tagline::floor
