// A cart's days: what happens to it, what it tells, and how it drives from one act to the next. See
// fleet_cart.hpp; the acts are in fleet_cart_acts.cpp.
#include "server/sim/fleet_cart.hpp"

#include <algorithm>
#include <cmath>

#include "server/sim/fleet_figures.hpp"
#include "server/sim/way_ahead.hpp"

namespace tagline::sim {

using figures::at_once_s;

FleetCart::FleetCart(CartIx self, const TapeTable& tapes, PoseIx standing, CartNature nature,
                     Random random)
    : self_{self},
      ways_{&tapes.ways()},
      floor_{&ways_->floor()},
      habits_{nature, random},
      motion_{tapes, standing},
      battery_{nature.battery},
      last_tag_{(*ways_)[standing].at} {
  told_state_.cart = self_;
  told_state_.battery = 100;
}

// ---- small truths -------------------------------------------------------------------------------

bool FleetCart::at_charger() const {
  const TapeWalk::Leg& home = walk().home();
  return home.pose && std::abs(motion_.from() - home.end()) <= figures::charger_reach_mm &&
         floor_->has_charger((*ways_)[*home.pose].at);
}

control::Fault FleetCart::fault() const {
  if (wrong_tag_) return control::Fault::wrong_tag;
  if (overrun_) return control::Fault::overrun;
  if (tape_lost_) return control::Fault::tape_lost;
  if (battery_.empty()) return control::Fault::battery;
  return told_state_.fault == control::Fault::blocked ? control::Fault::blocked
                                                      : control::Fault::none;
}

bool FleetCart::must_stand(double now) const {
  return stopped_ || wrong_tag_ || tape_lost_ || battery_.empty() || !trip_.begun() ||
         blockage_.keeps(now);
}

bool FleetCart::waits() const {
  return still() && !stopped_ && fault() == control::Fault::none && spending() == Spent::waiting;
}

Spent FleetCart::spending() const {
  if (!still()) return loaded_ ? Spent::loaded : Spent::empty;
  if (handling()) return Spent::handling;
  const bool at_rest = trip_.told_nothing() || (trip_.at_end() && !wrong_tag_ && !stopped_);
  if (!at_rest) return Spent::waiting;
  return !battery_.full() && at_charger() ? Spent::charging : Spent::resting;
}

control::CartGreets FleetCart::greeting(double now) const {
  control::CartGreets greets{self_};
  if (last_tag_ && !(*floor_)[*last_tag_].tags.empty()) {
    greets.last_tag = (*floor_)[*last_tag_].tags.front();
  }
  greets.step = trip_.passed();
  greets.until = trip_.until();
  greets.loaded = loaded_;
  greets.battery = static_cast<int>(std::ceil(battery_.percent()));
  (void)now;
  return greets;
}

// ---- accounts -----------------------------------------------------------------------------------

void FleetCart::account(double now) {
  const double passed = now - accounted_;
  const double driven = motion_.take_driven(now);
  driven_mm_ += driven;
  battery_.drive(driven);
  if (passed <= 0) return;
  accounted_ = now;
  const Spent kind = spending();
  double counted = passed;
  if (!battery_.full() && still() && at_charger()) {
    const double charged = battery_.charge(passed);
    if (kind == Spent::charging) {
      counted = charged;
      spent_[static_cast<std::size_t>(Spent::resting)] += passed - counted;
    }
  }
  spent_[static_cast<std::size_t>(kind)] += counted;
}

void FleetCart::tell_state(double now, bool anyway) {
  control::Fault what = fault();
  if (what == control::Fault::none || what == control::Fault::blocked) {
    what = blockage_.told(now) ? control::Fault::blocked : control::Fault::none;
  }
  control::CartReports state{self_, std::max(0, static_cast<int>(std::ceil(battery_.percent()))),
                             loaded_, !still(), what};
  const bool same = state.battery == told_state_.battery && state.loaded == told_state_.loaded &&
                    state.moving == told_state_.moving && state.fault == told_state_.fault;
  if (same && !anyway) return;
  told_state_ = state;
  out_.emplace_back(state);
}

// ---- what happens -------------------------------------------------------------------------------

void FleetCart::receive(double now, const control::Message& message) {
  account(now);
  if (const auto* told = std::get_if<control::TellAuthority>(&message)) {
    trip_.take(*told);
  } else if (std::holds_alternative<control::TellStop>(message)) {
    if (!stopped_) {
      stopped_ = true;
      out_.emplace_back(control::CartStopped{self_, control::StopCause::service});
    }
  } else if (std::holds_alternative<control::TellRelease>(message)) {
    stopped_ = false;
  } else if (std::holds_alternative<control::TellReset>(message)) {
    forget();
  } else {
    return;  // a reason to wait, for the display; nobody says here that a load is on or off
  }
  decide(now);
  tell_state(now, false);
  next_due(now);
}

void FleetCart::forget() {
  trip_.forget();
  goal_ = 0;
  overrun_ = wrong_tag_ = tape_lost_ = creeping_ = turn_run_ = false;
  handling_until_ = never;
}

void FleetCart::block(double now, double until) {
  account(now);
  blockage_.block(now, until);
  decide(now);
  next_due(now);
}

void FleetCart::set_on(double now, PoseIx standing) {
  account(now);
  motion_.set_on(now, standing);
  last_tag_ = (*ways_)[standing].at;
  forget();
  tell_state(now, false);
  next_due(now);
}

void FleetCart::push_back(double now) {
  account(now);
  const TapeWalk::Leg& home = walk().home();
  if (!overrun_ || !home.pose) return;
  const PointIx point = (*ways_)[*home.pose].at;
  if (!(*floor_)[point].tags.empty()) {
    motion_.push_home();
    read(point);
  }
  decide(now);
  tell_state(now, false);
  next_due(now);
}

void FleetCart::change_battery(double now) {
  account(now);
  battery_.change();
  decide(now);
  tell_state(now, false);
  next_due(now);
}

void FleetCart::take_load_off(double now) {
  account(now);
  loaded_ = false;
  tell_state(now, false);
}

void FleetCart::report(double now) {
  account(now);
  tell_state(now, true);
}

void FleetCart::wake(double now) {
  account(now);
  // Two things may be due at once, such as the last point and the end of the drive.
  for (int i = 0; i < 8; ++i) {
    if (motion_.turn_ends() <= now + at_once_s) {
      end_turning();
      continue;
    }
    if (handling_until_ <= now + at_once_s) {
      end_handling();
      continue;
    }
    if (!motion_.driving()) break;
    if (const auto next = next_point(); next && *next <= now + at_once_s) {
      pass_point();
      continue;
    }
    if (motion_.drive_ends() > now + at_once_s) break;
    halt(now);
  }
  const bool drives_on =
      motion_.driving() && !must_stand(now) && (goal_ > trip_.driven() || creeping_ || turn_run_);
  if (!drives_on) decide(now);
  tell_state(now, false);
  next_due(now);
}

std::optional<double> FleetCart::next_point() const {
  if (creeping_ || turn_run_) return {};
  return motion_.next_point();
}

void FleetCart::next_due(double now) {
  due_ = std::min({motion_.turn_ends(), handling_until_, blockage_.next_change(now)});
  if (!motion_.driving()) return;
  due_ = std::min(due_, motion_.drive_ends());
  if (const auto next = next_point()) due_ = std::min(due_, *next);
}

// ---- tags ---------------------------------------------------------------------------------------

void FleetCart::pass_point() {
  trip_.drive_over_point();
  motion_.pass_point();
  const TapeWalk::Leg& home = walk().home();
  if (!home.pose) return;
  const PointIx point = (*ways_)[*home.pose].at;
  const bool here = trip_.driven() == goal_;
  if (!(*floor_)[point].tags.empty() && habits_.reads_tag(here ? figures::tries_at_stop : 1)) {
    read(point);
  } else if (here) {
    creeping_ = true;
    const TapeWalk::Leg* beyond = motion_.direction() > 0 ? walk().ahead(1) : &home;
    const double room = beyond == nullptr ? figures::overrun_mm : beyond->length / 2;
    creep_to_ = home.end() + motion_.direction() * std::min(figures::overrun_mm, room);
  }
}

void FleetCart::read(PointIx point) {
  last_tag_ = point;
  const std::string& tag = (*floor_)[point].tags.front();
  switch (trip_.read(point)) {
    case CartTrip::Reading::expected:
      overrun_ = creeping_ = false;
      out_.emplace_back(control::CartReads{self_, tag, trip_.passed()});
      break;
    case CartTrip::Reading::again:
      break;
    case CartTrip::Reading::strange:
      if (trip_.begun()) wrong_tag_ = true;
      out_.emplace_back(control::CartReads{self_, tag, 0});
      break;
  }
}

// ---- driving ------------------------------------------------------------------------------------

void FleetCart::decide(double now) {
  if (turning() || handling()) return;
  if (must_stand(now) || trip_.told_nothing()) {
    if (motion_.driving()) brake(now);
    return;
  }
  drive(now, motion_.driving() ? motion_.speed(now) : 0);
}

void FleetCart::brake(double now) {
  goal_ = 0;
  if (!motion_.brake(now)) halt(now);
}

void FleetCart::halt(double now) {
  motion_.stand(now);
  if (creeping_ && std::abs(motion_.from() - creep_to_) < 1) {
    creeping_ = false;
    overrun_ = true;
  }
}

void FleetCart::drive(double now, double speed) {
  if (turn_run_) {
    drive_to_turn(now, speed);
    return;
  }
  if (trip_.missed_halt()) {
    creep_on(now, speed);
    return;
  }
  creeping_ = overrun_ = false;
  if (still() && start_act(now)) return;
  if (trip_.next() == nullptr) {
    if (motion_.driving()) brake(now);
    return;
  }
  if (trip_.next()->gear != trip_.gear()) {
    brake(now);
    return;
  }
  const control::Step last = trip_.next_halt();
  if (!lay_way_ahead(now, last, trip_, motion_, habits_, stretches_)) {
    tape_lost_ = true;
    if (motion_.driving()) brake(now);
    return;
  }
  goal_ = last;
  motion_.go(now, speed, stretches_, backing() ? -1 : 1);
}

void FleetCart::creep_on(double now, double speed) {
  if (overrun_) {
    if (motion_.driving()) brake(now);
    return;
  }
  TapeWalk& walk = motion_.walk();
  const double direction = motion_.direction();
  if (!creeping_) creep_to_ = walk.home().end() + direction * figures::overrun_mm;
  creeping_ = true;
  if (direction > 0 && walk.ahead(1) == nullptr) {
    const floor::Move* on =
        way_on(motion_.tapes(), *walk.home().pose, floor::Branch::straight, false);
    if (on != nullptr) {
      walk.lead_on(1, on->to, habits_.leg_factor());
      creep_to_ = walk.home().end() + std::min(figures::overrun_mm, walk.ahead(1)->length / 2);
    } else {
      walk.straight_on(figures::overrun_mm);
    }
  }
  const double left = std::abs(creep_to_ - motion_.reader(now));
  stretches_.assign(1, {std::max(left, figures::least_drive_mm), figures::creep_mm_per_s});
  goal_ = 0;
  motion_.go(now, speed, stretches_, direction);
}

}  // namespace tagline::sim
