// Somebody who hears what carts report, besides the core: as it arrives, so without waiting for the
// disk, and without any say in it.
#pragma once

#include <string>

#include "server/floor/ids.hpp"

namespace tagline::net {

/// Told on the network thread. What is sent again is told once.
class CartListener {
 public:
  virtual ~CartListener() = default;
  /// It has a link and may send; what it kept while it had none follows at once.
  virtual void welcomed(CartIx cart) = 0;
  virtual void has_read(CartIx cart, const std::string& tag) = 0;
  /// Whether its wheels turn.
  virtual void says_moving(CartIx cart, bool moving) = 0;
};

}  // namespace tagline::net
