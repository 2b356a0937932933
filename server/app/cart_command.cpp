// Virtual carts over the cart link.
#include "server/app/cart_command.hpp"

#include "server/app/bad_input.hpp"

namespace tagline::app {

int run_carts(const CartOptions&) {
  throw BadInput("virtual carts can't be run yet: server/sim/virtual_carts.hpp is to come");
}

}  // namespace tagline::app
