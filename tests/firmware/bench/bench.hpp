// The main loop of a cart on the bench: reader, clock and motor are a Rail, the service is whoever
// calls, and all that the cart would send or command is written down. C++14 for firmware.
//
// Lines begin with the time in ms:
//   service ...        what the cart is told
//   cart ...           messages it sends while it has a link, with their numbers: hello, read,
//   done,
//                      stop, release, state; the service acknowledges each at once
//   motor SPEED ...    what the motor is told, whenever that changes
//   missed N           tags passed without reading them
//   stands MM          the wheels came to rest, the reader so far along the way
#pragma once

#include <stdint.h>

#include "protocol/cart/cart_logic.hpp"
#include "protocol/cart/outbox.hpp"
#include "tests/firmware/bench/lines.hpp"
#include "tests/firmware/bench/rail.hpp"

namespace tagline {
namespace bench {

/// One point of an authority with one tag; `length` and `branch` of the way to it.
struct Leg {
  cart::Step step;
  const char* uid;
  cart::Act act;
  int32_t length;
  cart::Branch branch;
};

class Bench {
 public:
  explicit Bench(Lines& lines);

  Rail& rail() { return rail_; }
  void note(const char* text);
  /// Writes down how many tags the cart has missed since it started.
  void count_missed();

  /// Set down and shown the tag that the reader now sees. Greets the service, as connect() does.
  void set_down();
  /// No power for so long: the drive is off, nothing senses. Then it starts again and greets.
  void lose_power(uint32_t ms);

  void lose_link();
  /// `acknowledged`: the highest number that the service says it has.
  void connect(cart::Seq acknowledged);

  // ---- the service ---------------------------------------------------------------------------
  void grant(const Leg* legs, uint8_t count);
  void service_stop();
  void service_release();
  void service_reset();

  // ---- a person at the cart ------------------------------------------------------------------
  void press_stop();
  void press_release();

  // ---- time ----------------------------------------------------------------------------------
  void run(uint32_t ms);
  /// Until the cart tells that, for a minute at most; writes "gave up" if it doesn't.
  void run_until(cart::EventKind kind, cart::Step step);

 private:
  Lines& line();
  void hello();
  void once();
  void send(const cart::Outgoing& message);
  void tell_state();
  void tell_motor(const cart::Drive& drive);

  Lines& lines_;
  Rail rail_;
  cart::CartLogic logic_;
  cart::Outbox outbox_;
  cart::Drive drive_;
  /// The last thing the cart had to tell.
  cart::Event event_;
  bool linked_ = false;
  /// What was written last.
  bool loaded_ = false;
  bool moving_ = false;
  bool standing_ = true;
  cart::Fault fault_ = cart::Fault::none;
};

}  // namespace bench
}  // namespace tagline
