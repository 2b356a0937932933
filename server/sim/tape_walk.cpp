// See tape_walk.hpp.
#include "server/sim/tape_walk.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "server/sim/trail.hpp"

namespace tagline::sim {
namespace {

using floor::Position;

/// Headings this close are one, radians: the body then drifts less than 0.001 mm in a metre.
constexpr double same_heading = 1e-6;
/// This many legs are kept behind; more than any chain of spurs or body can lie on.
constexpr std::size_t kept_behind = 48;

Position unit(double heading) { return {std::cos(heading), std::sin(heading)}; }

bool same(double a, double b) { return std::abs(floor::turn_between(a, b)) < same_heading; }

}  // namespace

TapeTable::TapeTable(const floor::Ways& ways) : ways_{&ways} {
  const floor::Floor& floor = ways.floor();
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    for (const bool reversed : {false, true}) {
      const floor::Polyline line = floor::tape_of(floor, {s}, reversed);
      Tape tape;
      tape.length = line.length();
      const auto corners = line.corner_distances();
      for (std::size_t c = 0; c + 1 < std::max<std::size_t>(corners.size(), 2); ++c) {
        const double from = corners.empty() ? 0 : corners[c];
        const double to = c + 1 < corners.size() ? corners[c + 1] : tape.length;
        // At a corner the heading is that of the leg after it.
        const floor::Spot spot = line.at(from);
        const floor::Spot end = line.at(to);
        const double scale = to > from ? floor::distance(spot.at, end.at) / (to - from) : 1;
        most_scale_ = std::max(most_scale_, scale);
        if (!tape.runs.empty() && same(tape.runs.back().heading, spot.heading)) continue;
        tape.runs.push_back({from, spot.heading, spot.at, unit(spot.heading), scale});
      }
      tapes_.push_back(std::move(tape));
    }
  }
}

TapeWalk::Leg TapeWalk::leg_into(PoseIx pose, double start, double factor) const {
  return {pose, {}, 0, start, (*tapes_)[pose].length, factor};
}

double TapeWalk::reader_to_tail() const {
  const floor::CartBody& cart = tapes_->ways().floor().cart;
  return std::max(1.0, static_cast<double>((cart.length - cart.reader_to_nose).value));
}

void TapeWalk::set_on(PoseIx standing) {
  const floor::Ways& ways = tapes_->ways();
  std::vector<PoseIx> poses{standing};
  double behind = 0;
  const double needed = static_cast<double>(ways.floor().cart.length.value) * 2;
  while (behind < needed && poses.size() < kept_behind) {
    std::optional<PoseIx> before = ways[poses.back()].entry;
    // It may have to back out of all spurs: the tape behind counts from their mouth.
    if (!before) behind += (*tapes_)[poses.back()].length;
    for (const floor::Move& move : ways.moves_to(poses.back())) {
      if (before) break;
      if (move.gear == floor::Gear::forward && !move.turn_round) before = move.from;
    }
    if (!before) break;
    poses.push_back(*before);
  }
  legs_.clear();
  for (auto pose = poses.rbegin(); pose != poses.rend(); ++pose) {
    legs_.push_back(leg_into(*pose, legs_.empty() ? 0 : legs_.back().end(), 1));
  }
  home_ = legs_.size() - 1;
}

bool TapeWalk::lead_on(std::size_t count, PoseIx pose, double factor) {
  const std::size_t index = home_ + count;
  if (index < legs_.size() && legs_[index].pose == pose) return false;
  legs_.resize(index);
  legs_.push_back(leg_into(pose, legs_.back().end(), factor));
  return true;
}

void TapeWalk::straight_on(double length) {
  legs_.resize(home_ + 1);
  const floor::Spot from = spot(home().end());
  legs_.push_back({{}, from.at, from.heading, home().end(), length, 1});
}

void TapeWalk::pass_forward() {
  ++home_;
  forget_old();
}

void TapeWalk::pass_backward() {
  if (home_ > 0) --home_;
  // The leg it backs out of stays ahead while its nose lies on it; leading on replaces it.
  legs_.resize(std::min(legs_.size(), home_ + 2));
}

double TapeWalk::turn_into(const floor::Move& move, double offset, double factor) {
  const TapeTable::Tape& out = (*tapes_)[move.to];
  const double heading = out.runs.front().heading;
  const double length = 4 * static_cast<double>(tapes_->ways().floor().cart.length.value);
  const Position along = unit(heading);
  const Position at = out.runs.front().at;
  Leg behind{{}, {at.x - length * along.x, at.y - length * along.y}, heading, -length, length, 1};
  behind.pose = std::nullopt;
  legs_.clear();
  legs_.push_back(behind);
  legs_.push_back(leg_into(move.to, 0, factor));
  home_ = 0;
  return std::min(std::max(offset, 0.0), out.length / 2);
}

std::size_t TapeWalk::leg_at(double x) const {
  std::size_t i = std::min(home_ + 1, legs_.size() - 1);
  while (i > 0 && x <= legs_[i].start) --i;
  while (i + 1 < legs_.size() && x > legs_[i].end()) ++i;
  return i;
}

floor::Spot TapeWalk::spot(double x) const {
  const Leg& leg = legs_[leg_at(x)];
  const double driven = x - leg.start;
  if (!leg.pose) {
    const Position along = unit(leg.heading);
    return {{leg.from.x + driven * along.x, leg.from.y + driven * along.y}, leg.heading};
  }
  const auto& runs = (*tapes_)[*leg.pose].runs;
  std::size_t i = runs.size() - 1;
  while (i > 0 && runs[i].from > driven) --i;
  const TapeTable::Run& run = runs[i];
  double on = driven - run.from;
  // Before its first mm and beyond its last one tape goes straight on, 1 mm per driven mm.
  if (on > 0) {
    const double beyond = std::max(0.0, driven - leg.length);
    on = (on - beyond) * run.scale + beyond;
  }
  return {{run.at.x + on * run.along.x, run.at.y + on * run.along.y}, run.heading};
}

Rectangle TapeWalk::body(double x) const {
  return body_through(tapes_->ways().floor().cart, spot(x), spot(x - reader_to_tail()));
}

TapeWalk::Straight TapeWalk::straight(double x) const {
  const double tail = x - reader_to_tail();
  const std::size_t first = leg_at(tail);
  const auto heading_at = [&](const Leg& leg, double driven) {
    if (!leg.pose) return leg.heading;
    const auto& runs = (*tapes_)[*leg.pose].runs;
    std::size_t i = runs.size() - 1;
    while (i > 0 && runs[i].from > driven) --i;
    return runs[i].heading;
  };
  const double heading = heading_at(legs_[first], tail - legs_[first].start);
  // Forward from the tail to the first change of heading.
  double high = std::numeric_limits<double>::infinity();
  for (std::size_t i = first; i < legs_.size() && high > 1e300; ++i) {
    const Leg& leg = legs_[i];
    if (!leg.pose) {
      if (!same(leg.heading, heading)) high = leg.start;
      continue;
    }
    for (const TapeTable::Run& run : (*tapes_)[*leg.pose].runs) {
      if (leg.start + run.from <= tail) continue;
      if (same(run.heading, heading)) continue;
      high = leg.start + run.from;
      break;
    }
  }
  high = std::min(high, legs_.back().end());
  if (high < x) return {x, x};
  // Backing: the tail comes upon the end of the run it lies on.
  const Leg& leg = legs_[first];
  double low = leg.start;
  if (leg.pose) {
    for (const TapeTable::Run& run : (*tapes_)[*leg.pose].runs) {
      if (leg.start + run.from <= tail) low = leg.start + run.from;
    }
  }
  return {x - std::max(0.0, tail - low), high};
}

TapeWalk::Span TapeWalk::under(double x) const {
  return {&legs_[leg_at(x - reader_to_tail())], &legs_[leg_at(x)]};
}

void TapeWalk::forget_old() {
  if (home_ < 2 * kept_behind) return;
  legs_.erase(legs_.begin(), legs_.begin() + static_cast<std::ptrdiff_t>(home_ - kept_behind));
  home_ = kept_behind;
}

}  // namespace tagline::sim
