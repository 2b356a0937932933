// One turn of the loop every 20 ms, and the words for what comes out.
#include "tests/firmware/bench/bench.hpp"

namespace tagline {
namespace bench {

using cart::AuthorityPoint;
using cart::CartBuild;
using cart::Drive;
using cart::Event;
using cart::EventKind;
using cart::Fault;
using cart::Gear;
using cart::Handling;

namespace {

constexpr CartBuild build = {600, 100, 400, 600, 100};
constexpr Drive at_rest = {0, Gear::forward, cart::Branch::straight, false, false, Handling::none};
constexpr uint16_t segment_speed = 400;

const char* word_of(cart::Branch branch) {
  if (branch == cart::Branch::left) return "left";
  return branch == cart::Branch::right ? "right" : "straight";
}

const char* word_of(Gear gear) { return gear == Gear::back ? "back" : "forward"; }

const char* word_of(Handling handling) {
  if (handling == Handling::load) return "load";
  return handling == Handling::unload ? "unload" : "none";
}

const char* word_of(cart::StopCause cause) {
  switch (cause) {
    case cart::StopCause::button:
      return "button";
    case cart::StopCause::bumper:
      return "bumper";
    case cart::StopCause::scanner:
      return "scanner";
    case cart::StopCause::service:
      break;
  }
  return "service";
}

const char* word_of(Fault fault) {
  switch (fault) {
    case Fault::none:
      return "none";
    case Fault::blocked:
      return "blocked";
    case Fault::tape_lost:
      return "tape_lost";
    case Fault::overrun:
      return "overrun";
    case Fault::wrong_tag:
      return "wrong_tag";
    case Fault::battery:
      return "battery";
    case Fault::drive:
      return "drive";
    case Fault::reader:
      break;
  }
  return "reader";
}

bool same_drive(const Drive& a, const Drive& b) {
  return a.speed == b.speed && a.gear == b.gear && a.branch == b.branch &&
         a.straight_on == b.straight_on && a.turn == b.turn && a.handling == b.handling;
}

}  // namespace

Bench::Bench(Lines& lines) : lines_(lines), logic_(build), drive_(at_rest), event_() {}

Lines& Bench::line() { return lines_.number(static_cast<int32_t>(rail_.senses().time_ms)); }

void Bench::note(const char* text) { line().word("note").word(text).end(); }

void Bench::count_missed() { line().word("missed").number(logic_.missed()).end(); }

// ---- power -----------------------------------------------------------------------------------

void Bench::set_down() {
  const cart::Tag* seen = rail_.under_reader();
  logic_.power_up(cart::Kept{seen == nullptr ? cart::no_tag() : *seen, false, false},
                  seen != nullptr, rail_.senses().odometer);
  connect(0);
}

void Bench::lose_power(uint32_t ms) {
  const cart::Kept kept = {logic_.last_tag(), logic_.loaded(), logic_.stopped_here()};
  drive_ = at_rest;
  for (uint32_t gone = 0; gone < ms; gone += Rail::step_ms) rail_.step(drive_);
  rail_.restart_odometer();
  logic_.power_up(kept, false, rail_.senses().odometer);
  outbox_.clear();
  connect(0);
}

void Bench::lose_link() { linked_ = false; }

void Bench::connect(cart::Seq acknowledged) {
  hello();
  line().word("service welcome").number(static_cast<int32_t>(acknowledged)).end();
  outbox_.on_welcome(acknowledged);
  linked_ = true;
}

void Bench::hello() {
  char uid[cart::tag_text_size];
  cart::tag_to_hex(logic_.last_tag(), uid);
  line().word("cart hello").word(uid);
  lines_.word("step").number(static_cast<int32_t>(logic_.passed()));
  lines_.word("until").number(static_cast<int32_t>(logic_.until()));
  lines_.word("loaded").number(logic_.loaded() ? 1 : 0);
  lines_.word("stopped").number(logic_.stopped_here() ? 1 : 0).end();
}

// ---- the service and people ------------------------------------------------------------------

void Bench::grant(const Leg* legs, uint8_t count) {
  const bool taken = logic_.authority_begin(legs[0].step, legs[count - 1].step, 1);
  line().word("service authority").number(static_cast<int32_t>(legs[0].step));
  lines_.number(static_cast<int32_t>(legs[count - 1].step)).word(taken ? "taken" : "ignored").end();
  if (!taken) return;
  for (uint8_t i = 0; i < count; ++i) {
    cart::Tag tag = cart::no_tag();
    cart::tag_from_hex(legs[i].uid, tag);
    const AuthorityPoint point = {legs[i].step,  legs[i].act,    legs[i].branch,
                                  Gear::forward, legs[i].length, segment_speed};
    if (!logic_.authority_point(point, &tag, 1)) break;
  }
  logic_.authority_end();
}

void Bench::service_stop() {
  line().word("service stop").end();
  logic_.on_service_stop();
}

void Bench::service_release() {
  line().word("service release").end();
  logic_.on_service_release();
}

void Bench::service_reset() {
  line().word("service reset").end();
  logic_.reset();
}

void Bench::press_stop() { logic_.on_stop(cart::StopCause::button); }

void Bench::press_release() { logic_.on_release(); }

// ---- the loop --------------------------------------------------------------------------------

void Bench::once() {
  rail_.step(drive_);
  const cart::Tag* seen = rail_.under_reader();
  if (seen != nullptr) logic_.on_tag(*seen, rail_.senses().odometer);
  const Drive drive = logic_.step(rail_.senses());
  Event event = Event();
  while (outbox_.has_room() && logic_.next_event(event)) {
    outbox_.keep(event);
    event_ = event;
  }
  cart::Outgoing message = cart::Outgoing();
  while (linked_ && outbox_.next(message)) {
    send(message);
    outbox_.on_ack(message.seq);
  }
  if (!same_drive(drive, drive_)) tell_motor(drive);
  drive_ = drive;
  tell_state();
}

void Bench::run(uint32_t ms) {
  for (uint32_t gone = 0; gone < ms; gone += Rail::step_ms) once();
}

void Bench::run_until(EventKind kind, cart::Step step) {
  for (uint32_t gone = 0; gone < 60000; gone += Rail::step_ms) {
    once();
    if (event_.kind == kind && event_.step == step) return;
  }
  line().word("gave up").end();
}

void Bench::send(const cart::Outgoing& message) {
  const Event& event = message.event;
  line().word("cart");
  switch (event.kind) {
    case EventKind::read: {
      char uid[cart::tag_text_size];
      cart::tag_to_hex(event.tag, uid);
      lines_.word("read").word(uid).number(static_cast<int32_t>(event.step));
      break;
    }
    case EventKind::done:
      lines_.word("done").number(static_cast<int32_t>(event.step)).word(word_of(event.handling));
      break;
    case EventKind::stop:
      lines_.word("stop").word(word_of(event.cause));
      break;
    case EventKind::release:
      lines_.word("release");
      break;
  }
  lines_.word("seq").number(static_cast<int32_t>(message.seq)).end();
}

void Bench::tell_state() {
  const bool standing = rail_.senses().standing;
  if (standing && !standing_) line().word("stands").number(rail_.place()).end();
  standing_ = standing;
  if (!linked_) return;
  if (standing != moving_ && logic_.loaded() == loaded_ && logic_.fault() == fault_) return;
  moving_ = !standing;
  loaded_ = logic_.loaded();
  fault_ = logic_.fault();
  line().word("cart state loaded").number(loaded_ ? 1 : 0);
  lines_.word("moving").number(moving_ ? 1 : 0).word("fault").word(word_of(fault_));
  lines_.word("seq").number(static_cast<int32_t>(outbox_.number_state())).end();
}

void Bench::tell_motor(const Drive& drive) {
  line().word("motor").number(drive.speed).word(word_of(drive.gear)).word(word_of(drive.branch));
  if (drive.straight_on) lines_.word("straight_on");
  if (drive.turn) lines_.word("turn");
  if (drive.handling != Handling::none) lines_.word(word_of(drive.handling));
  lines_.end();
}

}  // namespace bench
}  // namespace tagline
