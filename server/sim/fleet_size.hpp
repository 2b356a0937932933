// How many carts a flow needs, by the textbook's deterministic delivery-cycle method (M. P.
// Groover, "Automation, Production Systems, and Computer-Integrated Manufacturing", chapter on
// material transport systems):
//   cycle      Tc = handling + loaded driving + empty driving, per delivery
//   workload   WL = deliveries per hour x Tc
//   available  AT = 1 h x availability x traffic factor x efficiency, per cart
//   carts      the least n with n x AT >= WL
// The method knows nothing of where carts meet: queues, merges and the dispatcher are all in its
// factors. It is a first estimate, which the simulation judges.
#pragma once

#include <cstddef>
#include <functional>

namespace tagline::sim {

/// Means per delivery, s.
struct DeliveryCycle {
  double handling_s{};
  double loaded_s{};
  double empty_s{};
  [[nodiscard]] double total_s() const { return handling_s + loaded_s + empty_s; }
};

/// Parts of an hour in which a cart works, each above 0 and at most 1.
struct WorkFactors {
  /// Not under repair or charging.
  double availability{1};
  /// Not waiting for other carts.
  double traffic{1};
  double efficiency{1};
};

struct FleetSize {
  /// WL and AT, seconds of work per hour.
  double workload_s{}, available_s{};
  /// WL / AT, and the carts that takes.
  double exact{};
  std::size_t carts{};
};

/// Throws std::invalid_argument for a cycle, flow or factor out of range.
FleetSize fleet_size(const DeliveryCycle& cycle, double per_hour, const WorkFactors& factors);

/// The same where the factors depend on how many carts there are, tried from 1 to `most`; 0 carts
/// if none of these suffices (figures: those of `most`).
FleetSize fleet_size(const DeliveryCycle& cycle, double per_hour,
                     const std::function<WorkFactors(std::size_t carts)>& factors,
                     std::size_t most);

}  // namespace tagline::sim
