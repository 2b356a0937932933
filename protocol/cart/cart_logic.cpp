// The cart's own decisions; what they are is told in the header.
#include "protocol/cart/cart_logic.hpp"

namespace tagline {
namespace cart {

namespace {

/// A tag seen again within this distance is the same pass over it, mm.
constexpr int32_t same_pass = 100;
/// How long the branch for leaving a point stays set behind its tag, mm.
constexpr int32_t branch_hold = 150;
/// How long something must be in the way before it is told, and how long the way must be free
/// before the cart goes on, ms.
constexpr uint32_t blocked_after_ms = 2000;
constexpr uint32_t free_after_ms = 1000;
/// A cart that doesn't know its distance must be able to halt within this behind a tag, mm.
constexpr int32_t unsure_stop = 40;

int32_t magnitude(int32_t value) { return value < 0 ? -value : value; }
/// The odometer is trusted as it is until so much track has been compared with it; and of so much
/// track the comparison is kept, mm.
constexpr int32_t learn_after = 10000;
constexpr int32_t learn_limit = 60000;
/// How early the reader may see a tag, mm (common practice, no source: 20 to 50).
constexpr int32_t seen_early = 30;

int32_t smaller(int32_t a, int32_t b) { return a < b ? a : b; }

/// Start of creeping before a halt, for a distance since the last tag, mm.
int32_t creep_stretch(int32_t distance) { return 60 + distance / 50; }

/// How far behind a place where it must halt it gives up, for a distance since the last tag, mm.
/// Never less than what an odometer true to 0.5 % may count too much, so as not to stop short of
/// the tag; otherwise as little as may be.
int32_t overrun_margin(int32_t distance) {
  return distance <= 9000 ? 60 : 60 + smaller((distance - 9000) / 200, 30);
}

uint16_t root(uint32_t square) {
  uint32_t result = 0;
  uint32_t bit = uint32_t{1} << 30;
  while (bit > square) bit >>= 2;
  while (bit != 0) {
    if (square >= result + bit) {
      square -= result + bit;
      result = (result >> 1) + bit;
    } else {
      result >>= 1;
    }
    bit >>= 2;
  }
  return static_cast<uint16_t>(result);
}

/// Highest speed from which the cart can come down to `then` within `distance`, mm/s. Plans with
/// four fifths of the brakes, so that the real ones can follow.
uint16_t speed_before(uint16_t then, int32_t distance, uint16_t deceleration) {
  if (distance <= 0) return then;
  // Beyond 20 m nothing limits; keeps the product within 32 bits for decelerations to 6 m/s2.
  if (distance > 20000) distance = 20000;
  const uint32_t braking = static_cast<uint32_t>(deceleration) * 8u / 5u;
  return root(static_cast<uint32_t>(then) * then + braking * static_cast<uint32_t>(distance));
}

}  // namespace

constexpr uint8_t CartLogic::max_points;
constexpr uint8_t CartLogic::max_tags;
constexpr uint8_t CartLogic::max_events;

CartLogic::CartLogic(const CartBuild& build)
    : build_(build),
      slots_(),
      tags_(),
      events_(),
      last_tag_(no_tag()),
      base_(0),
      step_(0),
      turned_step_(0),
      handled_step_(0),
      odometer_(0),
      mark_(0),
      tag_mark_(0),
      true_sum_(0),
      counted_sum_(0),
      obstacle_since_(0),
      obstacle_until_(0),
      missed_(0),
      count_(0),
      tag_count_(0),
      first_event_(0),
      event_count_(0),
      gear_(Gear::forward),
      handled_what_(Handling::none),
      handling_(Handling::none),
      outer_fault_(Fault::none),
      turning_(false),
      at_point_(false),
      mark_is_tag_(false),
      unsure_(true),
      tag_fresh_(false),
      taking_(false),
      stopped_here_(false),
      stopped_by_service_(false),
      obstacle_(false),
      blocked_(false),
      overrun_(false),
      ran_past_(false),
      wrong_tag_(false),
      tape_lost_(false),
      loaded_(false) {}

void CartLogic::power_up(const Kept& kept, bool over_it, int32_t odometer) {
  *this = CartLogic(build_);
  last_tag_ = kept.last_tag;
  loaded_ = kept.loaded;
  stopped_here_ = kept.stopped;
  odometer_ = odometer;
  tag_mark_ = odometer;
  tag_fresh_ = over_it;
}

// ---- authority -------------------------------------------------------------------------------

bool CartLogic::authority_begin(Step first, Step last) {
  taking_ = false;
  if (first == 0 || last < first) return false;
  if (step_ != 0 && (first > step_ || last < until())) return false;
  taking_ = true;
  // The point before the last one passed is kept to know its tag again.
  base_ = step_ != 0 && first < step_ ? step_ - 1u : first;
  count_ = 0;
  tag_count_ = 0;
  return true;
}

bool CartLogic::authority_point(const AuthorityPoint& point, const Tag* tags, uint8_t tag_count) {
  if (!taking_) return false;
  if (point.step < base_) return true;
  if (point.step != base_ + count_ || count_ == max_points || tag_count > max_tags - tag_count_) {
    taking_ = false;
    return false;
  }
  Slot& slot = slots_[count_++];
  slot.length = point.length;
  slot.speed = point.speed;
  slot.act = point.act;
  slot.branch = point.branch;
  slot.gear = point.gear;
  slot.first_tag = tag_count_;
  slot.tag_count = tag_count;
  for (uint8_t i = 0; i < tag_count; ++i) tags_[tag_count_++] = tags[i];
  return true;
}

void CartLogic::authority_end() {
  taking_ = false;
  overrun_ = false;  // if it doesn't reach farther than before, drive_on() finds that out again
  if (count_ == 0) {
    step_ = 0;
    return;
  }
  if (step_ == 0) {
    step_ = base_;
    at_point_ = true;
    mark_ = odometer_;
    mark_is_tag_ = false;
    gear_ = Gear::forward;
    unsure_ =
        !(tag_fresh_ && has_tag(0, last_tag_) && magnitude(odometer_ - tag_mark_) < same_pass);
  }
}

void CartLogic::reset() {
  base_ = 0;
  step_ = 0;
  count_ = 0;
  tag_count_ = 0;
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
  tell(Event{EventKind::stop, 0, no_tag(), Handling::none, StopCause::service});
}

void CartLogic::on_service_release() { stopped_by_service_ = false; }

void CartLogic::on_stop(StopCause cause) {
  if (stopped_here_) return;
  stopped_here_ = true;
  tell(Event{EventKind::stop, 0, no_tag(), Handling::none, cause});
}

void CartLogic::on_release() {
  if (!stopped_here_) return;
  stopped_here_ = false;
  tell(Event{EventKind::release, 0, no_tag(), Handling::none, StopCause::button});
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

bool CartLogic::has_tag(uint8_t slot, const Tag& tag) const {
  for (uint8_t i = 0; i < slots_[slot].tag_count; ++i) {
    if (same_tag(tags_[slots_[slot].first_tag + i], tag)) return true;
  }
  return false;
}

int32_t CartLogic::travelled() const {
  const int32_t counted = magnitude(odometer_ - mark_);
  if (counted_sum_ < learn_after || counted > learn_limit / 2) return counted;
  return counted * true_sum_ / counted_sum_;  // below 2^31: 30 m times 61 m
}

void CartLogic::learn(int32_t length) {
  const int32_t counted = magnitude(odometer_ - mark_);
  // What differs more than this says that something slipped, not what the odometer is worth.
  if (length > learn_limit / 2 || magnitude(counted - length) > 30 + length / 33) return;
  true_sum_ += length;
  counted_sum_ += counted;
  if (true_sum_ > learn_limit) {
    true_sum_ /= 2;
    counted_sum_ /= 2;
  }
}

void CartLogic::on_tag(const Tag& tag, int32_t odometer) {
  odometer_ = odometer;
  const bool same_as_last = same_tag(tag, last_tag_);
  if (tag_fresh_ && same_as_last && magnitude(odometer - tag_mark_) < same_pass) return;
  last_tag_ = tag;
  tag_mark_ = odometer;
  tag_fresh_ = true;
  if (step_ == 0) {
    tell(Event{EventKind::read, 0, tag, Handling::none, StopCause::button});
    return;
  }
  const uint8_t here = current();
  // Another tag of the point just reached; asked before looking ahead because the same point can
  // come again later (the mouth of a spur).
  const bool near = travelled() < same_pass;
  if (near && (has_tag(here, tag) || (here > 0 && has_tag(static_cast<uint8_t>(here - 1), tag)))) {
    return;
  }
  for (uint8_t i = static_cast<uint8_t>(here + 1); i < count_; ++i) {
    if (has_tag(i, tag)) {
      reach(i);
      tell(Event{EventKind::read, step_, tag, Handling::none, StopCause::button});
      return;
    }
  }
  // The point last passed, again: pushed to and fro by hand. It is where it was known to be.
  if (has_tag(here, tag)) return;
  wrong_tag_ = true;
  tell(Event{EventKind::read, 0, tag, Handling::none, StopCause::button});
}

void CartLogic::reach(uint8_t slot) {
  for (uint8_t i = static_cast<uint8_t>(current() + 1); i < slot; ++i) {
    ++missed_;
    // What had to be done there was not done, so the rest of the trip can't be obeyed as given.
    if (halts_at(i)) ran_past_ = true;
  }
  if (mark_is_tag_ && slot == current() + 1) learn(slots_[slot].length);
  step_ = base_ + slot;
  mark_ = odometer_;
  mark_is_tag_ = true;
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

bool CartLogic::halts_at(uint8_t slot) const {
  if (slot + 1 == count_) return true;
  const Act act = slots_[slot].act;
  if (act == Act::turn || act == Act::load || act == Act::unload) return true;
  return slots_[slot].gear != slots_[slot + 1].gear;
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
  const int32_t gone = travelled();
  int32_t place = 0;
  for (uint8_t i = current(); i + 1 < count_; ++i) {
    const int32_t hold = smaller(branch_hold, slots_[i + 1].length / 2);
    if (gone < place + hold) return slots_[i + 1].branch;
    place += slots_[i + 1].length;
  }
  return Branch::straight;
}

bool CartLogic::act_here(const Senses& senses, Drive& drive) {
  const uint8_t here = current();
  const Act act = slots_[here].act;
  if ((act == Act::load || act == Act::unload) && !handled_here(act)) {
    if (senses.standing) {
      handling_ = act == Act::load ? Handling::load : Handling::unload;
      drive.handling = handling_;
    }
    return true;
  }
  if (here + 1 >= count_) return true;
  if (act == Act::turn && turned_step_ != step_) {
    const int32_t braking = static_cast<int32_t>(build_.creep) * build_.creep /
                            (2 * static_cast<int32_t>(build_.deceleration));
    if (travelled() + braking < turn_offset()) {
      drive.straight_on = true;
      drive.speed = build_.creep;
    } else if (senses.standing) {
      turning_ = true;
      drive.turn = true;
    }
    return true;
  }
  if (slots_[here + 1].gear != gear_) {
    if (!senses.standing) return true;
    gear_ = slots_[here + 1].gear;
    mark_ = odometer_;
    mark_is_tag_ = false;
  }
  return false;
}

void CartLogic::drive_on(Drive& drive) {
  at_point_ = false;
  const uint8_t next = static_cast<uint8_t>(current() + 1);
  const int32_t gone = travelled();
  drive.gear = gear_;
  uint16_t speed = build_.speed;
  // `place` is where the segment to slot i begins, counted from the last point passed.
  int32_t place = 0;
  for (uint8_t i = next; i < count_; ++i) {
    const uint16_t limit =
        speed_before(slots_[i].speed, place - seen_early - gone, build_.deceleration);
    // A segment whose end should have been passed long ago limits no more.
    if (gone < place + slots_[i].length + overrun_margin(place) && limit < speed) speed = limit;
    place += slots_[i].length;
    if (!halts_at(i)) continue;
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

Drive CartLogic::step(const Senses& senses) {
  odometer_ = senses.odometer;
  watch_obstacle(senses);
  Drive drive{0, gear_, Branch::straight, false, false, Handling::none};
  if (handling_ != Handling::none && senses.handled) {
    handled_step_ = step_;
    handled_what_ = handling_;
    loaded_ = handling_ == Handling::load;
    tell(Event{EventKind::done, step_, no_tag(), handling_, StopCause::button});
    handling_ = Handling::none;
  }
  if (turning_ && senses.turned) {
    turning_ = false;
    turned_step_ = step_;
    mark_ = odometer_ - turn_offset();
    mark_is_tag_ = false;
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
    drive.branch = slots_[current() + 1].branch;
    return drive;
  }
  if (at_point_ && act_here(senses, drive)) return drive;
  drive_on(drive);
  return drive;
}

// ---- events ----------------------------------------------------------------------------------

void CartLogic::tell(const Event& event) {
  if (event_count_ == max_events) {
    // Never reached while events are taken after every step. A read may be lost (the next one
    // makes up for it), anything else may not.
    if (event.kind == EventKind::read) return;
    first_event_ = static_cast<uint8_t>((first_event_ + 1) % max_events);
    --event_count_;
  }
  events_[(first_event_ + event_count_) % max_events] = event;
  ++event_count_;
}

bool CartLogic::next_event(Event& out) {
  if (event_count_ == 0) return false;
  out = events_[first_event_];
  first_event_ = static_cast<uint8_t>((first_event_ + 1) % max_events);
  --event_count_;
  return true;
}

}  // namespace cart
}  // namespace tagline
