// A firmware whose stack holds 100 bytes and little else, to check the measure of stacks.
#include <avr/interrupt.h>
#include <avr/sleep.h>
#include <stdint.h>

namespace {

__attribute__((noinline)) void fill() {
  volatile uint8_t room[100];
  for (uint8_t i = 0; i < sizeof room; ++i) room[i] = i;
}

}  // namespace

int main() {
  fill();
  cli();
  sleep_enable();
  for (;;) sleep_cpu();
}
