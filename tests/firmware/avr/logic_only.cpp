// The smallest firmware around the cart logic, to be weighed: one cart with its outbox, and nothing
// that a real one would have around it. All of protocol/cart is linked, called or not.
#include "protocol/cart/cart_logic.hpp"
#include "protocol/cart/outbox.hpp"

namespace {

const tagline::cart::CartBuild build = {600, 100, 400, 600, 100};
tagline::cart::CartLogic logic(build);
tagline::cart::Outbox outbox;
volatile uint16_t motor;

}  // namespace

int main() {
  tagline::cart::Senses senses = tagline::cart::Senses();
  tagline::cart::Event event = tagline::cart::Event();
  for (;;) {
    motor = logic.step(senses).speed;
    while (outbox.has_room() && logic.next_event(event)) outbox.keep(event);
  }
}
