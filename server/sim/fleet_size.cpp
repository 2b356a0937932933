// See fleet_size.hpp.
#include "server/sim/fleet_size.hpp"

#include <cmath>
#include <stdexcept>

namespace tagline::sim {
namespace {

/// 4.0000000001 carts are 4.
constexpr double rounding = 1e-9;

FleetSize workload_and_fleet(const DeliveryCycle& cycle, double per_hour,
                             const WorkFactors& factors) {
  if (!(cycle.total_s() > 0) || !(per_hour >= 0)) {
    throw std::invalid_argument("a cycle must last and a flow can't be negative");
  }
  for (const double factor : {factors.availability, factors.traffic, factors.efficiency}) {
    if (!(factor > 0 && factor <= 1)) {
      throw std::invalid_argument("factors of working time lie above 0 and are at most 1");
    }
  }
  FleetSize size;
  size.workload_s = per_hour * cycle.total_s();
  size.available_s = 3600 * factors.availability * factors.traffic * factors.efficiency;
  size.exact = size.workload_s / size.available_s;
  return size;
}

}  // namespace

FleetSize fleet_size(const DeliveryCycle& cycle, double per_hour, const WorkFactors& factors) {
  FleetSize size = workload_and_fleet(cycle, per_hour, factors);
  size.carts = static_cast<std::size_t>(std::ceil(size.exact - rounding));
  return size;
}

FleetSize fleet_size(const DeliveryCycle& cycle, double per_hour,
                     const std::function<WorkFactors(std::size_t carts)>& factors,
                     std::size_t most) {
  FleetSize size;
  for (std::size_t carts = 1; carts <= most; ++carts) {
    size = workload_and_fleet(cycle, per_hour, factors(carts));
    if (size.exact > static_cast<double>(carts) + rounding) continue;
    size.carts = carts;
    return size;
  }
  return size;
}

}  // namespace tagline::sim
