// See way_ahead.hpp.
#include "server/sim/way_ahead.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {
namespace {

/// The leg on which the cart comes, backing, to the point `count` points behind it; null: no tape.
const TapeWalk::Leg* leg_back(const TapeWalk& walk, std::size_t count) {
  const TapeWalk::Leg* leg = walk.behind(count - 1);
  if (leg == nullptr || !leg->pose || walk.behind(count) == nullptr) return nullptr;
  return leg;
}

/// The leg on which it comes, driving forward, to the point `count` points ahead; null: no tape.
const TapeWalk::Leg* leg_on(double x, std::size_t count, floor::Branch branch, CartMotion& motion,
                            CartHabits& habits) {
  TapeWalk& walk = motion.walk();
  const TapeWalk::Leg& home = walk.home();
  // Well beyond a fork it can't follow another tape any more.
  const bool committed = count == 1 && walk.ahead(1) != nullptr && walk.ahead(1)->pose &&
                         (!home.pose || x > home.end() + figures::fork_zone_mm);
  if (committed) return walk.ahead(1);
  const TapeWalk::Leg* before = walk.ahead(count - 1);
  const floor::Move* move =
      before->pose ? way_on(motion.tapes(), *before->pose, branch, false) : nullptr;
  if (move == nullptr) return nullptr;
  const TapeWalk::Leg* there = walk.ahead(count);
  const bool other = there == nullptr || there->pose != move->to;
  const bool changed = other && walk.lead_on(count, move->to, habits.leg_factor());
  if (changed && count == 1 && x > walk.home().end()) motion.stir();
  return walk.ahead(count);
}

}  // namespace

const floor::Move* way_on(const TapeTable& tapes, PoseIx from, floor::Branch branch, bool turn) {
  const floor::Move* best = nullptr;
  double best_turn = std::numeric_limits<double>::infinity();
  const double heading = tapes[from].runs.back().heading;
  for (const floor::Move& move : tapes.ways().moves_from(from)) {
    if (move.gear != floor::Gear::forward || move.turn_round != turn) continue;
    double bend = std::abs(floor::turn_between(heading, tapes[move.to].runs.front().heading));
    if (move.branch == branch) bend -= 100;  // the branch asked for comes first
    if (bend < best_turn) {
      best_turn = bend;
      best = &move;
    }
  }
  return best;
}

bool lay_way_ahead(double now, control::Step last, const CartTrip& trip, CartMotion& motion,
                   CartHabits& habits, std::vector<Stretch>& stretches) {
  const double x = motion.reader(now);
  stretches.clear();
  for (control::Step step = trip.driven() + 1; step <= last; ++step) {
    const auto count = static_cast<std::size_t>(step - trip.driven());
    const control::ToldPoint& told = *trip.slot(step);
    const TapeWalk::Leg* leg = nullptr;
    double length = 0;
    if (trip.gear() == floor::Gear::back) {
      leg = leg_back(motion.walk(), count);
      if (leg == nullptr) return false;
      length = count == 1 ? x - leg->start : leg->length;
    } else {
      leg = leg_on(x, count, told.branch, motion, habits);
      if (leg == nullptr) return false;
      length = leg->end() - (count == 1 ? x : leg->start);
    }
    const double limit = static_cast<double>(told.speed.value) * habits.pace() * leg->factor;
    stretches.push_back({std::max(length, figures::least_drive_mm), std::max(limit, 1.0)});
  }
  return true;
}

}  // namespace tagline::sim
