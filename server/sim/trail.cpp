// The reader's way over the floor: see trail.hpp.
#include "server/sim/trail.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tagline::sim {
namespace {

using floor::Position;
using floor::Spot;

/// Off the tape a leg goes straight on without end; this is as good, mm.
constexpr double endless = 1e7;
/// Behind the reader so much of the trail is kept, mm.
constexpr double kept_behind_mm = 60'000;

Position onward(Position from, double heading, double distance) {
  return {from.x + std::cos(heading) * distance, from.y + std::sin(heading) * distance};
}

}  // namespace

Trail::Leg Trail::leg_into(PoseIx pose_ix, double start) const {
  const floor::Pose& pose = (*ways_)[pose_ix];
  const floor::Segment& segment = ways_->floor()[pose.by];
  Leg leg{floor::tape_of(ways_->floor(), pose.by, pose.reversed),
          start,
          pose.by,
          pose.reversed ? segment.to : segment.from,
          pose.at,
          pose_ix};
  return leg;
}

Trail::Trail(const floor::Ways& ways, PoseIx standing, double beyond) : ways_{&ways} {
  // Where it came from before that segment: any way in will do, as long as the body lies on tape.
  std::vector<PoseIx> poses{standing};
  double behind = 0;
  const double needed = static_cast<double>(ways.floor().cart.length.value) * 2;
  while (behind < needed && poses.size() < 100) {
    const floor::Pose& pose = ways[poses.back()];
    behind += static_cast<double>(ways.floor()[pose.by].length.value);
    std::optional<PoseIx> before = pose.entry;
    for (const floor::Move& move : ways.moves_to(poses.back())) {
      if (before) break;
      if (move.gear == floor::Gear::forward && !move.turn_round) before = move.from;
    }
    if (!before) break;
    poses.push_back(*before);
  }
  double start = 0;
  for (auto pose = poses.rbegin(); pose != poses.rend(); ++pose) {
    legs_.push_back(leg_into(*pose, start));
    start = end(legs_.back());
  }
  here_ = legs_.size() - 1;
  reader_ = start;
  if (beyond > 0) {
    forward(beyond, {});
  } else {
    backward(-beyond);
  }
}

void Trail::drop_ahead() {
  legs_.erase(legs_.begin() + static_cast<std::ptrdiff_t>(here_) + 1, legs_.end());
}

Trail::Leg Trail::next_leg(Choice choice) const {
  const Leg& last = leg();
  if (!choice.straight_on && last.at_end) {
    const floor::Move* best = nullptr;
    double best_turn = std::numeric_limits<double>::infinity();
    for (const floor::Move& move : ways_->moves_from(*last.at_end)) {
      if (move.gear != floor::Gear::forward || move.turn_round) continue;
      const floor::Pose& to = (*ways_)[move.to];
      const double heading = floor::tape_of(ways_->floor(), to.by, to.reversed).start_heading();
      double turn = std::abs(floor::turn_between(last.tape.end_heading(), heading));
      if (move.branch == choice.branch) turn -= 100;  // the branch asked for comes first
      if (turn < best_turn) {
        best_turn = turn;
        best = &move;
      }
    }
    if (best != nullptr) return leg_into(best->to, end(last));
  }
  const Spot from = last.tape.at(last.tape.length());
  const double heading = last.tape.end_heading();
  return {floor::Polyline{{from.at, onward(from.at, heading, endless)}, endless},
          end(last),
          std::nullopt,
          last.to,
          std::nullopt,
          std::nullopt};
}

std::optional<PoseIx> Trail::behind() const {
  return here_ > 0 ? legs_[here_ - 1].at_end : std::nullopt;
}

void Trail::forward(double distance, Choice choice) {
  reader_ += distance;
  while (reader_ > end(leg())) {
    drop_ahead();
    legs_.push_back(next_leg(choice));
    ++here_;
  }
  forget_old();
}

void Trail::backward(double distance) {
  reader_ -= distance;
  while (here_ > 0 && reader_ <= leg().start) --here_;
  drop_ahead();
}

void Trail::choose_again(Choice choice) {
  if (here_ == 0) return;
  const double zone = std::min(fork_zone, leg().tape.length() / 3);
  if (!legs_[here_ - 1].at_end || reader_ - leg().start > zone) return;
  --here_;
  drop_ahead();
  legs_.push_back(next_leg(choice));
  ++here_;
}

const floor::Move* Trail::turn_move(floor::Branch branch) const {
  // The reader stands before or behind the point; which leg ends there tells the pose.
  std::optional<PoseIx> pose = leg().at_end;
  const double to_end = end(leg()) - reader_;
  if (here_ > 0 && (!pose || reader_ - leg().start < to_end)) pose = legs_[here_ - 1].at_end;
  if (!pose) return nullptr;
  const floor::Move* any = nullptr;
  for (const floor::Move& move : ways_->moves_from(*pose)) {
    if (!move.turn_round) continue;
    if (move.branch == branch) return &move;
    if (any == nullptr) any = &move;
  }
  return any;
}

void Trail::turn_into(const floor::Move& move) {
  const Rectangle before = body();
  Leg out = leg_into(move.to, 0);
  const Spot start = out.tape.at(0);
  const double heading = out.tape.start_heading();
  const Position along{std::cos(heading), std::sin(heading)};
  // The centre stayed where it was: how far it lies along the new tape, and the reader before it.
  const double centre =
      (before.centre.x - start.at.x) * along.x + (before.centre.y - start.at.y) * along.y;
  const floor::CartBody& cart = ways_->floor().cart;
  const double reader = centre + before.length / 2 - static_cast<double>(cart.reader_to_nose.value);
  // (A cart with its reader behind its centre would stand before the point; none is built so.)
  const double length = 4 * before.length;
  Leg behind{floor::Polyline{{onward(start.at, heading, -length), start.at}, length},
             -length,
             std::nullopt,
             std::nullopt,
             out.from,
             std::nullopt};
  legs_.clear();
  legs_.push_back(std::move(behind));
  legs_.push_back(std::move(out));
  reader_ = std::max(reader, 1.0);
  here_ = 1;
}

std::vector<Mark> Trail::marks() const {
  std::vector<Mark> result;
  if (leg().from) result.push_back({*leg().from, reader_ - leg().start});
  if (leg().to) result.push_back({*leg().to, reader_ - end(leg())});
  return result;
}

bool Trail::on_tape() const {
  constexpr double sensor_reach = 60;
  return leg().segment || reader_ - leg().start < sensor_reach;
}

std::optional<SegmentIx> Trail::segment() const { return leg().segment; }
double Trail::along() const { return reader_ - leg().start; }

Spot Trail::at(double driven) const {
  std::size_t i = here_;
  while (i > 0 && driven < legs_[i].start) --i;
  while (i < here_ && driven > end(legs_[i])) ++i;
  return legs_[i].tape.at(driven - legs_[i].start);
}

Rectangle body_through(const floor::CartBody& cart, const Spot& reader, const Spot& tail) {
  const double length = static_cast<double>(cart.length.value);
  const double to_nose = static_cast<double>(cart.reader_to_nose.value);
  double dx = reader.at.x - tail.at.x;
  double dy = reader.at.y - tail.at.y;
  const double chord = std::hypot(dx, dy);
  if (chord < 1) {
    dx = std::cos(reader.heading);
    dy = std::sin(reader.heading);
  } else {
    dx /= chord;
    dy /= chord;
  }
  const double back = length / 2 - to_nose;
  return {{reader.at.x - dx * back, reader.at.y - dy * back},
          {dx, dy},
          length,
          static_cast<double>(cart.width.value)};
}

Rectangle Trail::body() const {
  const floor::CartBody& cart = ways_->floor().cart;
  const double length = static_cast<double>(cart.length.value);
  const double to_nose = static_cast<double>(cart.reader_to_nose.value);
  const Spot reader = at(reader_);
  const Spot tail = at(reader_ - std::max(1.0, length - to_nose));
  return body_through(cart, reader, tail);
}

void Trail::forget_old() {
  std::size_t old = 0;
  while (old < here_ && end(legs_[old]) < reader_ - kept_behind_mm) ++old;
  if (old == 0) return;
  legs_.erase(legs_.begin(), legs_.begin() + static_cast<std::ptrdiff_t>(old));
  here_ -= old;
}

}  // namespace tagline::sim
