// A thread that runs only while carts and boards want nothing.
#pragma once

namespace tagline::net {

/// Of the calling thread; false if it keeps the usual priority, with which it works all the same.
bool give_way_to_others();

}  // namespace tagline::net
