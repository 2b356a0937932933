// See fleet_cart.hpp.
#include "server/sim/fleet_cart.hpp"

#include <algorithm>
#include <cmath>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {
namespace {

using control::ToldAct;

/// Events due within this of now are now, s.
constexpr double at_once = 1e-9;
/// No leg left to drive is shorter, mm.
constexpr double least_drive = 1e-6;

}  // namespace

FleetCart::FleetCart(CartIx self, const TapeTable& tapes, PoseIx standing, CartNature nature,
                     Random random)
    : self_{self},
      tapes_{&tapes},
      floor_{&tapes.ways().floor()},
      nature_{nature},
      random_{random},
      walk_{tapes, standing},
      factor_{random_.between(1 - nature.noise, 1)},
      top_speed_{static_cast<double>(floor_->cart.speed.value) * tapes.most_scale()},
      from_x_{walk_.home().end()},
      last_tag_{tapes.ways()[standing].at} {
  told_state_.cart = self_;
  told_state_.battery = 100;
}

// ---- small truths -----------------------------------------------------------------------------

DriveLimits FleetCart::limits() const {
  return {static_cast<double>(floor_->cart.acceleration.value),
          static_cast<double>(floor_->cart.deceleration.value)};
}

double FleetCart::turn_offset() const {
  const floor::CartBody& cart = floor_->cart;
  return std::max(0.0, static_cast<double>(cart.length.value) / 2 -
                           static_cast<double>(cart.reader_to_nose.value));
}

double FleetCart::leg_factor() { return random_.between(1 - nature_.noise, 1); }

double FleetCart::reader(double now) const {
  return doing_ == Doing::driving ? from_x_ + direction_ * profile_.distance(now) : from_x_;
}

Rectangle FleetCart::body(double now) const {
  if (doing_ != Doing::turning) return walk_.body(reader(now));
  const double part = std::clamp((now - turn_began_) / (busy_until_ - turn_began_), 0.0, 1.0);
  const double before = std::atan2(turn_from_.along.y, turn_from_.along.x);
  const double after = std::atan2(turn_to_.along.y, turn_to_.along.x);
  const double heading = before + part * floor::turn_between(before, after);
  Rectangle body = turn_from_;
  body.centre.x += part * (turn_to_.centre.x - turn_from_.centre.x);
  body.centre.y += part * (turn_to_.centre.y - turn_from_.centre.y);
  body.along = {std::cos(heading), std::sin(heading)};
  return body;
}

double FleetCart::swing_speed() const {
  const double takes = busy_until_ - turn_began_;
  const double angle = floor::turn_between(std::atan2(turn_from_.along.y, turn_from_.along.x),
                                           std::atan2(turn_to_.along.y, turn_to_.along.x));
  const double drift = floor::distance(turn_from_.centre, turn_to_.centre);
  return (std::abs(angle) * std::hypot(turn_from_.length, turn_from_.width) / 2 + drift) / takes;
}

bool FleetCart::at_charger() const {
  return walk_.home().pose && std::abs(from_x_ - walk_.home().end()) <= figures::charger_reach_mm &&
         floor_->has_charger(tapes_->ways()[*walk_.home().pose].at);
}

control::Fault FleetCart::fault() const {
  if (wrong_tag_) return control::Fault::wrong_tag;
  if (overrun_) return control::Fault::overrun;
  if (tape_lost_) return control::Fault::tape_lost;
  if (battery_ <= 0) return control::Fault::battery;
  return told_state_.fault == control::Fault::blocked ? control::Fault::blocked
                                                      : control::Fault::none;
}

bool FleetCart::must_stand(double now) const {
  return stopped_ || wrong_tag_ || tape_lost_ || battery_ <= 0 || passed_ == 0 ||
         now < blocked_until_ + figures::free_again_s - at_once;
}

const control::ToldPoint* FleetCart::slot(Step step) const {
  if (told_.empty() || step < told_.front().step || step > told_.back().step) return nullptr;
  return &told_[static_cast<std::size_t>(step - told_.front().step)];
}

bool FleetCart::halts_at(Step step) const {
  const control::ToldPoint* here = slot(step);
  const control::ToldPoint* next = slot(step + 1);
  if (here == nullptr || next == nullptr) return true;
  if (here->act == ToldAct::turn || here->act == ToldAct::load || here->act == ToldAct::unload) {
    return true;
  }
  // The first point was passed before; how the cart came to it is not told.
  const floor::Gear gear = step == told_.front().step ? gear_ : here->gear;
  return gear != next->gear;
}

bool FleetCart::done_at(Step step, ToldAct act) const {
  const auto what = act == ToldAct::load ? control::Handling::load : control::Handling::unload;
  return handled_step_ == step && handled_ == what && loaded_ == (act == ToldAct::load);
}

const floor::Move* FleetCart::choose(PoseIx from, floor::Branch branch, bool turn) const {
  const floor::Move* best = nullptr;
  double best_turn = std::numeric_limits<double>::infinity();
  const double heading = (*tapes_)[from].runs.back().heading;
  for (const floor::Move& move : tapes_->ways().moves_from(from)) {
    if (move.gear != floor::Gear::forward || move.turn_round != turn) continue;
    double bend = std::abs(floor::turn_between(heading, (*tapes_)[move.to].runs.front().heading));
    if (move.branch == branch) bend -= 100;  // the branch asked for comes first
    if (bend < best_turn) {
      best_turn = bend;
      best = &move;
    }
  }
  return best;
}

bool FleetCart::waits() const {
  return doing_ == Doing::standing && !stopped_ && fault() == control::Fault::none &&
         spending() == Spent::waiting;
}

Spent FleetCart::spending() const {
  if (doing_ == Doing::driving || doing_ == Doing::turning) {
    return loaded_ ? Spent::loaded : Spent::empty;
  }
  if (doing_ == Doing::handling) return Spent::handling;
  const bool at_rest = told_.empty() || (told_.back().act == ToldAct::stop &&
                                         driven_ == told_.back().step && !wrong_tag_ && !stopped_);
  if (!at_rest) return Spent::waiting;
  return nature_.battery && battery_ < 100 && at_charger() ? Spent::charging : Spent::resting;
}

control::CartGreets FleetCart::greeting(double now) const {
  control::CartGreets greets{self_};
  if (last_tag_ && !(*floor_)[*last_tag_].tags.empty()) {
    greets.last_tag = (*floor_)[*last_tag_].tags.front();
  }
  greets.step = passed_;
  greets.until = told_.empty() ? 0 : told_.back().step;
  greets.loaded = loaded_;
  greets.battery = static_cast<int>(std::ceil(battery_));
  (void)now;
  return greets;
}

// ---- accounts -----------------------------------------------------------------------------------

void FleetCart::account(double now) {
  const double passed = now - accounted_;
  if (doing_ == Doing::driving) {
    const double gone = profile_.distance(now);
    driven_mm_ += gone - accounted_distance_;
    if (nature_.battery) battery_ -= (gone - accounted_distance_) * 100 / figures::battery_mm;
    accounted_distance_ = gone;
  }
  if (passed <= 0) return;
  accounted_ = now;
  const Spent kind = spending();
  double counted = passed;
  if (nature_.battery && battery_ < 100 && still() && at_charger()) {
    const double rate = 100 / figures::charging_s;
    const double to_full = (100 - battery_) / rate;
    if (kind == Spent::charging) {
      counted = std::min(passed, to_full);
      spent_[static_cast<std::size_t>(Spent::resting)] += passed - counted;
    }
    battery_ = passed >= to_full ? 100 : battery_ + passed * rate;
  }
  spent_[static_cast<std::size_t>(kind)] += counted;
}

void FleetCart::tell_state(double now, bool anyway) {
  control::Fault what = fault();
  if (what == control::Fault::none || what == control::Fault::blocked) {
    const bool in_the_way = now >= blocked_from_ + figures::blocked_told_s - at_once &&
                            now < blocked_until_ + figures::free_again_s - at_once;
    what = in_the_way ? control::Fault::blocked : control::Fault::none;
  }
  control::CartReports state{self_, std::max(0, static_cast<int>(std::ceil(battery_))), loaded_,
                             doing_ == Doing::driving || doing_ == Doing::turning, what};
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
    take(now, *told);
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
    return;  // a reason to wait, for the display
  }
  decide(now);
  tell_state(now, false);
  next_due(now);
}

void FleetCart::take(double now, const control::TellAuthority& told) {
  (void)now;
  if (told.points.empty()) return;
  const Step first = told.points.front().step;
  const Step last = told.points.back().step;
  if (passed_ != 0 && (first > passed_ || (!told_.empty() && last < told_.back().step))) return;
  told_ = told.points;
  if (passed_ == 0) {
    passed_ = driven_ = first;
    gear_ = floor::Gear::forward;
  }
}

void FleetCart::forget() {
  told_.clear();
  passed_ = driven_ = goal_ = handled_step_ = turned_step_ = 0;
  overrun_ = wrong_tag_ = tape_lost_ = creeping_ = turn_run_ = false;
  if (doing_ == Doing::handling) {
    doing_ = Doing::standing;
    busy_until_ = never;
  }
}

void FleetCart::block(double now, double until) {
  account(now);
  if (now >= blocked_until_ + figures::free_again_s) blocked_from_ = now;
  blocked_until_ = std::max(blocked_until_, until);
  decide(now);
  next_due(now);
}

void FleetCart::set_on(double now, PoseIx standing) {
  account(now);
  walk_.set_on(standing);
  profile_.stand(now);
  accounted_distance_ = 0;
  from_x_ = walk_.home().end();
  doing_ = Doing::standing;
  busy_until_ = never;
  last_tag_ = tapes_->ways()[standing].at;
  forget();
  stirred_ = true;
  tell_state(now, false);
  next_due(now);
}

void FleetCart::push_back(double now) {
  account(now);
  if (!overrun_ || !walk_.home().pose) return;
  const PointIx point = tapes_->ways()[*walk_.home().pose].at;
  if (!(*floor_)[point].tags.empty()) {
    from_x_ = walk_.home().end();
    stirred_ = true;
    read(point);
  }
  decide(now);
  tell_state(now, false);
  next_due(now);
}

void FleetCart::change_battery(double now) {
  account(now);
  battery_ = 100;
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
    if ((doing_ == Doing::turning || doing_ == Doing::handling) && busy_until_ <= now + at_once) {
      doing_ == Doing::turning ? end_turning(now) : end_handling(now);
      continue;
    }
    if (doing_ != Doing::driving) break;
    if (const auto next = next_point(); next && profile_.time_at(*next) <= now + at_once) {
      pass_point(now);
      continue;
    }
    if (profile_.end() > now + at_once) break;
    halt(now);
  }
  const bool drives_on =
      doing_ == Doing::driving && !must_stand(now) && (goal_ > driven_ || creeping_ || turn_run_);
  if (!drives_on) decide(now);
  tell_state(now, false);
  next_due(now);
}

std::optional<double> FleetCart::next_point() const {
  if (doing_ != Doing::driving || creeping_ || turn_run_) return {};
  double to = 0;
  if (direction_ > 0) {
    const TapeWalk::Leg* next = walk_.ahead(1);
    if (next == nullptr || !next->pose) return {};
    to = next->end() - from_x_;
  } else {
    to = from_x_ - walk_.home().start;
  }
  if (to > profile_.length() + least_drive) return {};
  return to;
}

void FleetCart::next_due(double now) {
  due_ = busy_until_;
  if (doing_ == Doing::driving) {
    due_ = profile_.end();
    if (const auto next = next_point()) due_ = std::min(due_, profile_.time_at(*next));
  }
  const double told = blocked_from_ + figures::blocked_told_s;
  const double free = blocked_until_ + figures::free_again_s;
  if (now < free - at_once) {
    due_ = std::min(due_, free);
    if (now < told - at_once && told < free) due_ = std::min(due_, told);
  }
}

// ---- tags ---------------------------------------------------------------------------------------

void FleetCart::pass_point(double now) {
  (void)now;
  ++driven_;
  if (direction_ > 0) {
    walk_.pass_forward();
  } else {
    walk_.pass_backward();
  }
  if (!walk_.home().pose) return;
  const PointIx point = tapes_->ways()[*walk_.home().pose].at;
  const bool here = driven_ == goal_;
  if (!(*floor_)[point].tags.empty() && try_read(here ? figures::tries_at_stop : 1)) {
    read(point);
  } else if (here) {
    creeping_ = true;
    const TapeWalk::Leg* beyond = direction_ > 0 ? walk_.ahead(1) : &walk_.home();
    const double room = beyond == nullptr ? figures::overrun_mm : beyond->length / 2;
    creep_to_ = walk_.home().end() + direction_ * std::min(figures::overrun_mm, room);
  }
}

bool FleetCart::try_read(int tries) {
  for (int i = 0; i < tries; ++i) {
    if (nature_.miss_rate <= 0 || !random_.chance(nature_.miss_rate)) return true;
  }
  return false;
}

void FleetCart::read(PointIx point) {
  last_tag_ = point;
  const std::string& tag = (*floor_)[point].tags.front();
  for (Step s = passed_ + 1; slot(s) != nullptr; ++s) {
    if (slot(s)->point != point) continue;
    passed_ = driven_ = s;
    overrun_ = creeping_ = false;
    out_.emplace_back(control::CartReads{self_, tag, s});
    return;
  }
  if (const auto* here = slot(passed_); here != nullptr && here->point == point) return;
  if (passed_ != 0) wrong_tag_ = true;
  out_.emplace_back(control::CartReads{self_, tag, 0});
}

// ---- driving
// --------------------------------------------------------------------------------------

void FleetCart::decide(double now) {
  if (doing_ == Doing::turning || doing_ == Doing::handling) return;
  if (must_stand(now) || told_.empty()) {
    if (doing_ == Doing::driving) brake(now);
    return;
  }
  drive(now, doing_ == Doing::driving ? profile_.speed(now) : 0);
}

void FleetCart::brake(double now) {
  const double speed = profile_.speed(now);
  const double x = reader(now);
  from_x_ = x;
  accounted_distance_ = 0;
  goal_ = 0;
  profile_.brake(now, speed, limits());
  if (speed <= 0) halt(now);
}

void FleetCart::halt(double now) {
  from_x_ = reader(now);
  profile_.stand(now);
  accounted_distance_ = 0;
  doing_ = Doing::standing;
  stood_since_ = now;
  if (creeping_ && std::abs(from_x_ - creep_to_) < 1) {
    creeping_ = false;
    overrun_ = true;
  }
}

void FleetCart::drive(double now, double speed) {
  const double usual = static_cast<double>(floor_->cart.speed.value) * factor_;
  if (turn_run_) {
    const double left = walk_.home().end() + turn_offset() - reader(now);
    if (doing_ == Doing::standing && left < 1) {
      start_turning(now);
      return;
    }
    stretches_.assign(1, {std::max(left, least_drive), usual});
    direction_ = 1;
    goal_ = 0;
    go(now, speed);
    return;
  }
  if (passed_ < driven_ && halts_at(driven_)) {
    // Something was to be done at the place of a tag that it did not see.
    if (overrun_) {
      if (doing_ == Doing::driving) brake(now);
      return;
    }
    const double x = reader(now);
    if (!creeping_) creep_to_ = walk_.home().end() + direction_ * figures::overrun_mm;
    creeping_ = true;
    if (direction_ > 0 && walk_.ahead(1) == nullptr) {
      const floor::Move* on = choose(*walk_.home().pose, floor::Branch::straight, false);
      if (on != nullptr) {
        walk_.lead_on(1, on->to, leg_factor());
        creep_to_ = walk_.home().end() + std::min(figures::overrun_mm, walk_.ahead(1)->length / 2);
      } else {
        walk_.straight_on(figures::overrun_mm);
      }
    }
    stretches_.assign(1, {std::max(std::abs(creep_to_ - x), least_drive), figures::creep_mm_per_s});
    goal_ = 0;
    go(now, speed);
    return;
  }
  creeping_ = overrun_ = false;
  if (doing_ == Doing::standing && start_act(now)) return;
  if (slot(driven_ + 1) == nullptr) {
    if (doing_ == Doing::driving) brake(now);
    return;
  }
  if (slot(driven_ + 1)->gear != gear_) {
    brake(now);
    return;
  }
  Step last = driven_ + 1;
  while (!halts_at(last)) ++last;
  if (!lay_ahead(now, last)) {
    tape_lost_ = true;
    if (doing_ == Doing::driving) brake(now);
    return;
  }
  goal_ = last;
  direction_ = gear_ == floor::Gear::forward ? 1 : -1;
  go(now, speed);
}

bool FleetCart::lay_ahead(double now, Step last) {
  const double x = reader(now);
  stretches_.clear();
  for (Step step = driven_ + 1; step <= last; ++step) {
    const auto count = static_cast<std::size_t>(step - driven_);
    const TapeWalk::Leg* leg = nullptr;
    double length = 0;
    if (gear_ == floor::Gear::back) {
      leg = walk_.behind(count - 1);
      if (leg == nullptr || !leg->pose || walk_.behind(count) == nullptr) return false;
      length = count == 1 ? x - leg->start : leg->length;
    } else {
      const bool committed = count == 1 && walk_.ahead(1) != nullptr && walk_.ahead(1)->pose &&
                             (!walk_.home().pose || x > walk_.home().end() + figures::fork_zone_mm);
      if (!committed) {
        const TapeWalk::Leg* before = walk_.ahead(count - 1);
        const floor::Move* move =
            before->pose ? choose(*before->pose, slot(step)->branch, false) : nullptr;
        if (move == nullptr) return false;
        const TapeWalk::Leg* there = walk_.ahead(count);
        if ((there == nullptr || there->pose != move->to) &&
            walk_.lead_on(count, move->to, leg_factor()) && count == 1 && x > walk_.home().end()) {
          stirred_ = true;
        }
      }
      leg = walk_.ahead(count);
      length = leg->end() - (count == 1 ? x : leg->start);
    }
    const double limit = static_cast<double>(slot(step)->speed.value) * factor_ * leg->factor;
    stretches_.push_back({std::max(length, least_drive), std::max(limit, 1.0)});
  }
  return true;
}

void FleetCart::go(double now, double speed) {
  from_x_ = reader(now);
  accounted_distance_ = 0;
  profile_.drive(now, speed, stretches_, limits());
  if (doing_ != Doing::driving) stirred_ = true;
  doing_ = Doing::driving;
}

// ---- acts
// -----------------------------------------------------------------------------------------

bool FleetCart::start_act(double now) {
  const control::ToldPoint* here = slot(driven_);
  if (here == nullptr) return true;
  const bool handles = here->act == ToldAct::load || here->act == ToldAct::unload;
  if (handles && !done_at(driven_, here->act)) {
    start_handling(now);
    return true;
  }
  const control::ToldPoint* next = slot(driven_ + 1);
  if (next == nullptr) return true;
  if (here->act == ToldAct::turn && turned_step_ != driven_) {
    turn_run_ = true;
    walk_.straight_on(std::max(turn_offset(), 1.0));
    drive(now, 0);
    return true;
  }
  gear_ = next->gear;
  return false;
}

void FleetCart::start_turning(double now) {
  const control::ToldPoint* next = slot(driven_ + 1);
  turn_move_ = next != nullptr && walk_.home().pose ? choose(*walk_.home().pose, next->branch, true)
                                                    : nullptr;
  if (turn_move_ == nullptr) {
    tape_lost_ = true;
    turn_run_ = false;
    return;
  }
  turn_from_ = body(now);
  TapeWalk after = walk_;
  turn_to_ = after.body(after.turn_into(*turn_move_, turn_offset(), 1));
  turn_began_ = now;
  busy_until_ = now + std::chrono::duration<double>(floor::turn_round_time).count();
  doing_ = Doing::turning;
  stirred_ = true;
}

void FleetCart::end_turning(double now) {
  from_x_ = walk_.turn_into(*turn_move_, turn_offset(), leg_factor());
  turned_step_ = driven_;
  gear_ = floor::Gear::forward;
  turn_run_ = false;
  busy_until_ = never;
  doing_ = Doing::standing;
  stood_since_ = now;
  stirred_ = true;
}

void FleetCart::start_handling(double now) {
  const control::ToldPoint* here = slot(driven_);
  handling_ = here->act == ToldAct::load ? control::Handling::load : control::Handling::unload;
  double usual = 5;
  for (std::uint32_t i = 0; i < floor_->stations.size(); ++i) {
    const floor::Station& station = floor_->stations[i];
    if (station.point != here->point) continue;
    if (station_ && station_->value != i && (*floor_)[*station_].point == here->point) continue;
    usual = std::chrono::duration<double>(handling_ == control::Handling::load ? station.load
                                                                               : station.unload)
                .count();
    break;
  }
  if (nature_.noise > 0) usual *= random_.between(1 - nature_.noise, 1 + nature_.noise);
  busy_until_ = now + usual;
  doing_ = Doing::handling;
}

void FleetCart::end_handling(double now) {
  handled_step_ = driven_;
  handled_ = handling_;
  loaded_ = handling_ == control::Handling::load;
  busy_until_ = never;
  doing_ = Doing::standing;
  stood_since_ = now;
  out_.emplace_back(control::CartHandled{self_, driven_, handling_});
}

}  // namespace tagline::sim
