// A firmware that does what the cart logic must not, to show that the check for it sees it.
#include <avr/interrupt.h>
#include <avr/sleep.h>
#include <stdlib.h>

volatile unsigned wanted = 16;
void* volatile room;

int main() {
  room = malloc(wanted);
  cli();
  sleep_enable();
  for (;;) sleep_cpu();
}
