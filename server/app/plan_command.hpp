// `tagline plan`: how many carts for the demand, by the textbook and by simulation, and what
// limits.
#pragma once

#include <cstdint>
#include <filesystem>

namespace tagline::app {

struct PlanOptions {
  std::filesystem::path floor;
  /// The floor's demand times this.
  double demand_factor{1};
  /// Of each simulated run.
  double hours{8};
  /// For each number of carts and each question.
  int runs{5};
  std::uint64_t seed{1};
  bool json{false};
  /// Draws the answer; none if empty.
  std::filesystem::path svg;
};

/// Gives 0 if some number of carts carries the demand, 1 if none that the floor can carry does, 3
/// if a run broke an invariant. Throws BadInput.
int plan(const PlanOptions& options);

}  // namespace tagline::app
