// Which cart for which job.
//
// Jobs are served by urgency, and each gets the free cart that can be at its pickup first:
//   urgency(job)   = priority x 10 min + age            (so a job of priority 0 outranks a fresh
//   one
//                                                        of priority 9 after 90 min: none starves)
//   chosen(job)    = argmin over free carts of  ready(cart) + travel(cart -> pickup)
// `ready` is the time until the cart reaches the end of the track it has been granted, where it can
// be turned to another errand. One job after the other, not all together, and travel without
// regard to other traffic: simple on purpose, to be replaced behind this interface.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::dispatch {

struct OpenJob {
  PointIx pickup;
  int priority{};
  Duration age{};
};

struct FreeCart {
  CartIx cart;
  /// Where it can first be turned to another errand, and in how long.
  PoseIx start;
  Duration ready{};
};

struct Match {
  std::size_t job{};   // index into the jobs given
  std::size_t cart{};  // index into the carts given
};

/// Matches in the order in which they should be carried out. `open(cart, pose)`: may that cart's
/// way lead over that pose. A job no free cart can reach is left out. Ties: the earlier job, then
/// the earlier cart.
std::vector<Match> assign(const floor::Ways& ways, const std::vector<OpenJob>& jobs,
                          const std::vector<FreeCart>& carts,
                          const std::function<bool(CartIx, PoseIx)>& open);

}  // namespace tagline::dispatch
