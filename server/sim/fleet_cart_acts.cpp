// What a cart of a fast run does over a point before it drives on: loads, unloads, turns on the
// spot. See fleet_cart.hpp.
#include <algorithm>
#include <chrono>

#include "server/sim/fleet_cart.hpp"
#include "server/sim/fleet_figures.hpp"
#include "server/sim/way_ahead.hpp"

namespace tagline::sim {

using control::ToldAct;

bool FleetCart::start_act(double now) {
  const control::ToldPoint* here = trip_.here();
  if (here == nullptr) return true;
  if (here->act == ToldAct::load || here->act == ToldAct::unload) {
    const bool load = here->act == ToldAct::load;
    const auto what = load ? control::Handling::load : control::Handling::unload;
    if (!trip_.has_handled(what) || loaded_ != load) {
      start_handling(now);
      return true;
    }
  }
  if (trip_.next() == nullptr) return true;
  if (here->act == ToldAct::turn && !trip_.has_turned()) {
    turn_run_ = true;
    motion_.walk().straight_on(std::max(motion_.turn_offset(), 1.0));
    drive(now, 0);
    return true;
  }
  trip_.shift();
  return false;
}

void FleetCart::drive_to_turn(double now, double speed) {
  const double left = walk().home().end() + motion_.turn_offset() - motion_.reader(now);
  if (still() && left < 1) {
    start_turning(now);
    return;
  }
  const double usual = static_cast<double>(floor_->cart.speed.value) * habits_.pace();
  stretches_.assign(1, {std::max(left, figures::least_drive_mm), usual});
  goal_ = 0;
  motion_.go(now, speed, stretches_, 1);
}

void FleetCart::start_turning(double now) {
  const control::ToldPoint* next = trip_.next();
  const TapeWalk::Leg& home = walk().home();
  const floor::Move* move = next != nullptr && home.pose
                                ? way_on(motion_.tapes(), *home.pose, next->branch, true)
                                : nullptr;
  if (move == nullptr) {
    tape_lost_ = true;
    turn_run_ = false;
    return;
  }
  motion_.start_turning(now, *move);
}

void FleetCart::end_turning() {
  motion_.end_turning(habits_.leg_factor());
  trip_.note_turned();
  turn_run_ = false;
}

double FleetCart::usual_handling_s(PointIx point, control::Handling what) const {
  for (std::uint32_t i = 0; i < floor_->stations.size(); ++i) {
    const floor::Station& station = floor_->stations[i];
    if (station.point != point) continue;
    if (station_ && station_->value != i && (*floor_)[*station_].point == point) continue;
    const auto takes = what == control::Handling::load ? station.load : station.unload;
    return std::chrono::duration<double>(takes).count();
  }
  return 5;
}

void FleetCart::start_handling(double now) {
  const control::ToldPoint* here = trip_.here();
  handling_ = here->act == ToldAct::load ? control::Handling::load : control::Handling::unload;
  handling_until_ = now + habits_.handling_s(usual_handling_s(here->point, handling_));
}

void FleetCart::end_handling() {
  trip_.note_handled(handling_);
  loaded_ = handling_ == control::Handling::load;
  handling_until_ = never;
  out_.emplace_back(control::CartHandled{self_, trip_.driven(), handling_});
}

}  // namespace tagline::sim
