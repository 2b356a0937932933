// The bench program on the microcontroller: writes its lines to the serial port, then sleeps with
// interrupts off, which is how a simulator knows that it is over.
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "tests/firmware/bench/trip.hpp"

namespace {

void put(void*, char byte) {
  while ((UCSR0A & _BV(UDRE0)) == 0) {
  }
  UDR0 = static_cast<uint8_t>(byte);
}

// Not on the stack, so that what the stack holds is what the calls need.
tagline::bench::Lines lines(put, nullptr);
tagline::bench::Bench bench(lines);

}  // namespace

int main() {
  // As fast as it goes, 2 Mbit/s of a 16 MHz clock: the port is not what is tested.
  UCSR0A = _BV(U2X0);
  UBRR0 = 0;
  UCSR0B = _BV(TXEN0);
  tagline::bench::run_trip(bench);
  while ((UCSR0A & _BV(UDRE0)) == 0) {
  }
  cli();
  sleep_enable();
  for (;;) sleep_cpu();
}
