// The cart's own decisions; what they are is told in the header.
#include "protocol/cart/cart_logic.hpp"

#include "protocol/cart/braking.hpp"

namespace tagline {
namespace cart {

namespace {

/// A tag seen again within this distance is the same pass over it, mm.
constexpr int32_t one_pass = 100;
/// How long the branch for leaving a point stays set behind its tag, mm.
constexpr int32_t branch_hold = 150;
/// How long something must be in the way before it is told, and how long the way must be free
/// before the cart goes on, ms.
constexpr uint32_t blocked_after_ms = 2000;
constexpr uint32_t free_after_ms = 1000;
/// A cart that doesn't know its distance must be able to halt within this behind a tag, mm.
constexpr int32_t unsure_stop = 40;
/// How early the reader may see a tag, mm (common practice, no source: 20 to 50).
constexpr int32_t seen_early = 30;

Event stop_event(StopCause cause) {
  return Event{EventKind::stop, 0, no_tag(), Handling::none, cause};
}

Event read_event(Step step, const Tag& tag) {
  return Event{EventKind::read, step, tag, Handling::none, StopCause::button};
}

}  // namespace

// What is cleared is cleared in place: an empty CartLogic made to copy from would need as much
// stack again as the whole object has.

CartLogic::CartLogic(const CartBuild& build) : build_(build) {
  power_up(Kept{no_tag(), false, false}, false, 0);
}

void CartLogic::power_up(const Kept& kept, bool over_it, int32_t odometer) {
  reset();
  events_.clear();
  reckoning_.clear(odometer);
  last_tag_ = kept.last_tag;
  tag_mark_ = odometer;
  tag_fresh_ = over_it;
  obstacle_since_ = 0;
  obstacle_until_ = 0;
  missed_ = 0;
  outer_fault_ = Fault::none;
  stopped_here_ = kept.stopped;
  stopped_by_service_ = false;
  obstacle_ = false;
  blocked_ = false;
  loaded_ = kept.loaded;
}

// ---- authority -------------------------------------------------------------------------------

bool CartLogic::authority_begin(Step first, Step last, Trip trip) {
  return held_.begin(first, last, trip, step_);
}

bool CartLogic::authority_point(const AuthorityPoint& point, const Tag* tags, uint8_t tag_count) {
  return held_.add(point, tags, tag_count);
}

void CartLogic::authority_end() {
  held_.end();
  overrun_ = false;  // if it doesn't reach farther than before, drive_on() finds that out again
  if (held_.count() == 0) {
    step_ = 0;
    return;
  }
  if (step_ == 0) {
    step_ = held_.base();
    at_point_ = true;
    reckoning_.mark_place(0);
    gear_ = Gear::forward;
    unsure_ = !(held_.has_tag(0, last_tag_) && same_pass(last_tag_));
  }
}

void CartLogic::reset() {
  held_.clear();
  step_ = 0;
  turned_step_ = 0;
  handled_step_ = 0;
  handled_what_ = Handling::none;
  handling_ = Handling::none;
  gear_ = Gear::forward;
  turning_ = false;
  at_point_ = false;
  unsure_ = true;
  overrun_ = false;
  ran_past_ = false;
  wrong_tag_ = false;
  tape_lost_ = false;
}

// ---- stop and release ------------------------------------------------------------------------

void CartLogic::on_service_stop() {
  if (stopped_by_service_) return;
  stopped_by_service_ = true;
  events_.push(stop_event(StopCause::service));
}

void CartLogic::on_service_release() { stopped_by_service_ = false; }

void CartLogic::on_stop(StopCause cause) {
  if (stopped_here_) return;
  stopped_here_ = true;
  events_.push(stop_event(cause));
}

void CartLogic::on_release() {
  if (!stopped_here_) return;
  stopped_here_ = false;
  events_.push(Event{EventKind::release, 0, no_tag(), Handling::none, StopCause::button});
}

void CartLogic::set_fault(Fault fault) { outer_fault_ = fault; }

void CartLogic::set_loaded(bool loaded) { loaded_ = loaded; }

Fault CartLogic::fault() const {
  if (wrong_tag_) return Fault::wrong_tag;
  if (overrun_ || ran_past_) return Fault::overrun;
  if (tape_lost_) return Fault::tape_lost;
  if (outer_fault_ != Fault::none) return outer_fault_;
  return blocked_ ? Fault::blocked : Fault::none;
}

// ---- tags ------------------------------------------------------------------------------------

bool CartLogic::same_pass(const Tag& tag) const {
  return tag_fresh_ && same_tag(tag, last_tag_) && reckoning_.counted_since(tag_mark_) < one_pass;
}

void CartLogic::on_tag(const Tag& tag, int32_t odometer) {
  reckoning_.set_odometer(odometer);
  if (same_pass(tag)) return;
  last_tag_ = tag;
  tag_mark_ = odometer;
  tag_fresh_ = true;
  if (step_ == 0) {
    events_.push(read_event(0, tag));
    return;
  }
  const uint8_t here = current();
  // Another tag of the point just reached; asked before looking ahead because the same point can
  // come again later (the mouth of a spur).
  const bool near = reckoning_.travelled() < one_pass;
  if (near && (held_.has_tag(here, tag) ||
               (here > 0 && held_.has_tag(static_cast<uint8_t>(here - 1), tag)))) {
    return;
  }
  for (uint8_t i = static_cast<uint8_t>(here + 1); i < held_.count(); ++i) {
    if (held_.has_tag(i, tag)) {
      reach(i);
      events_.push(read_event(step_, tag));
      return;
    }
  }
  // The point last passed, again: pushed to and fro by hand. It is where it was known to be.
  if (held_.has_tag(here, tag)) return;
  wrong_tag_ = true;
  events_.push(read_event(0, tag));
}

void CartLogic::reach(uint8_t index) {
  for (uint8_t i = static_cast<uint8_t>(current() + 1); i < index; ++i) {
    if (held_[i].tag_count > 0) ++missed_;
    // What had to be done there was not done, so the rest of the trip can't be obeyed as given.
    if (held_.halts_at(i)) ran_past_ = true;
  }
  reckoning_.mark_tag(index == current() + 1 ? held_[index].length : 0);
  step_ = held_.base() + index;
  at_point_ = true;
  unsure_ = false;
  overrun_ = false;
}

// ---- driving ---------------------------------------------------------------------------------

int32_t CartLogic::turn_offset() const {
  const int32_t offset = static_cast<int32_t>(build_.length) / 2 - build_.reader_to_nose;
  return offset > 0 ? offset : 0;
}

bool CartLogic::handled_here(Act act) const {
  const Handling what = act == Act::load ? Handling::load : Handling::unload;
  // What was put on and taken off again by a person (its job was cancelled) is to be done anew.
  return handled_step_ == step_ && handled_what_ == what && loaded_ == (act == Act::load);
}

void CartLogic::watch_obstacle(const Senses& senses) {
  if (senses.obstacle) {
    if (!obstacle_) obstacle_since_ = senses.time_ms;
    obstacle_ = true;
    obstacle_until_ = senses.time_ms;
    if (senses.time_ms - obstacle_since_ >= blocked_after_ms) blocked_ = true;
  } else if (obstacle_ && senses.time_ms - obstacle_until_ >= free_after_ms) {
    obstacle_ = false;
    blocked_ = false;
  }
}

bool CartLogic::must_stand() const {
  return stopped() || obstacle_ || wrong_tag_ || ran_past_ || overrun_ || tape_lost_ ||
         outer_fault_ != Fault::none || step_ == 0;
}

Branch CartLogic::branch_ahead() const {
  const int32_t gone = reckoning_.travelled();
  int32_t place = 0;
  for (uint8_t i = current(); i + 1 < held_.count(); ++i) {
    const HeldPoint& next = held_[static_cast<uint8_t>(i + 1)];
    const int32_t half = next.length / 2;
    if (gone < place + (half < branch_hold ? half : branch_hold)) return next.branch;
    place += next.length;
  }
  return Branch::straight;
}

bool CartLogic::act_here(const Senses& senses, Drive& drive) {
  const uint8_t here = current();
  const Act act = held_[here].act;
  if ((act == Act::load || act == Act::unload) && !handled_here(act)) {
    if (senses.standing) {
      handling_ = act == Act::load ? Handling::load : Handling::unload;
      drive.handling = handling_;
    }
    return true;
  }
  if (here + 1 >= held_.count()) return true;
  if (act == Act::turn && turned_step_ != step_) {
    const int32_t braking = static_cast<int32_t>(build_.creep) * build_.creep /
                            (2 * static_cast<int32_t>(build_.deceleration));
    if (reckoning_.travelled() + braking < turn_offset()) {
      drive.straight_on = true;
      drive.speed = build_.creep;
    } else if (senses.standing) {
      turning_ = true;
      drive.turn = true;
    }
    return true;
  }
  if (held_[static_cast<uint8_t>(here + 1)].gear != gear_) {
    if (!senses.standing) return true;
    gear_ = held_[static_cast<uint8_t>(here + 1)].gear;
    reckoning_.mark_place(0);
  }
  return false;
}

void CartLogic::drive_on(Drive& drive) {
  at_point_ = false;
  const uint8_t next = static_cast<uint8_t>(current() + 1);
  const int32_t gone = reckoning_.travelled();
  drive.gear = gear_;
  uint16_t speed = build_.speed;
  // `place` is where the segment to slot i begins, counted from the last point passed.
  int32_t place = 0;
  for (uint8_t i = next; i < held_.count(); ++i) {
    const uint16_t limit =
        speed_before(held_[i].speed, place - seen_early - gone, build_.deceleration);
    // A segment whose end should have been passed long ago limits no more.
    if (gone < place + held_[i].length + overrun_margin(place) && limit < speed) speed = limit;
    place += held_[i].length;
    if (!held_.halts_at(i)) continue;
    overrun_ = gone > place + overrun_margin(place);
    if (overrun_) return;
    const uint16_t before =
        speed_before(build_.creep, place - creep_stretch(place) - gone, build_.deceleration);
    if (before < speed) speed = before;
    break;
  }
  if (unsure_) {
    const uint16_t slow = speed_before(0, unsure_stop, build_.deceleration);
    if (slow < speed) speed = slow;
  }
  drive.speed = speed;
}

bool CartLogic::on_handled(Step step, Handling what) {
  if (handling_ == Handling::none || handling_ != what || step != step_) return false;
  end_handling();
  return true;
}

void CartLogic::end_handling() {
  handled_step_ = step_;
  handled_what_ = handling_;
  loaded_ = handling_ == Handling::load;
  events_.push(Event{EventKind::done, step_, no_tag(), handling_, StopCause::button});
  handling_ = Handling::none;
}

Drive CartLogic::step(const Senses& senses) {
  reckoning_.set_odometer(senses.odometer);
  watch_obstacle(senses);
  Drive drive{0, gear_, Branch::straight, false, false, Handling::none};
  if (handling_ != Handling::none && senses.handled) end_handling();
  if (turning_ && senses.turned) {
    turning_ = false;
    turned_step_ = step_;
    reckoning_.mark_place(turn_offset());
  }
  if (step_ == 0) return drive;
  drive.branch = branch_ahead();
  if (handling_ != Handling::none) {
    drive.handling = handling_;
    return drive;
  }
  if (!turning_ && !at_point_ && !senses.tape) tape_lost_ = true;
  if (must_stand()) return drive;
  if (turning_) {
    drive.turn = true;
    drive.branch = held_[static_cast<uint8_t>(current() + 1)].branch;
    return drive;
  }
  if (at_point_ && act_here(senses, drive)) return drive;
  drive_on(drive);
  return drive;
}

}  // namespace cart
}  // namespace tagline
