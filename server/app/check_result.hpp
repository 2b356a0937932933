// All that `tagline check` found out about one floor with so many carts.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/app/inputs.hpp"
#include "server/dispatch/throughput.hpp"
#include "server/floor/inspection.hpp"
#include "server/traffic/capacity.hpp"

namespace tagline::app {

/// The place of a finding that has none in particular.
inline constexpr std::string_view whole_floor = "the floor as a whole";

struct CheckResult {
  /// Findings of the tape, and of carts and demand, by severity.
  floor::Inspection inspection;
  traffic::LiveLimit limit;
  /// Carts the rest is worked out for, and whether they were asked for.
  std::size_t carts{};
  bool carts_given{false};
  /// Sum of the floor's demand; 0: it names none.
  double demand_per_hour{};
  /// Nothing if there are no flows or one has no way; then `no_bound` says why.
  std::optional<dispatch::Throughput> bound;
  std::string no_bound;
  /// Carts of which the fleet bound just meets the demand.
  std::optional<std::size_t> carts_for_demand;

  /// Findings of one severity.
  [[nodiscard]] std::size_t count(floor::Severity severity) const;
  /// Idle carts must move on ahead of working ones: not every cart has a siding to rest on.
  [[nodiscard]] bool must_move_on() const { return carts > 1 && limit.moving_on(carts); }
  [[nodiscard]] bool may_run() const { return count(floor::Severity::forbids) == 0; }
};

/// `carts`: nothing takes as many as the demand needs by the fleet bound, but no more than the
/// floor stays live with; without demand, as many as it stays live with; at least one.
CheckResult check_floor(const floor::Track& track, std::optional<std::size_t> carts);

}  // namespace tagline::app
