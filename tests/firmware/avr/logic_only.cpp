// The smallest firmware around the cart logic, to be weighed: one cart, and nothing that a real one
// would have around it. All of protocol/cart is linked, called or not.
#include "protocol/cart/cart_logic.hpp"

namespace {

const tagline::cart::CartBuild build = {600, 100, 400, 600, 100};
tagline::cart::CartLogic logic(build);
volatile uint16_t motor;

}  // namespace

int main() {
  tagline::cart::Senses senses = tagline::cart::Senses();
  for (;;) motor = logic.step(senses).speed;
}
