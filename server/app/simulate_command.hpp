// `tagline simulate`: a floor at work, faster than real time, with the service's own core; prints
// what came of it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>

namespace tagline::app {

struct SimulateOptions {
  std::filesystem::path floor;
  std::optional<int> carts;  // must be given unless a trace is replayed
  double hours{8};
  std::uint64_t seed{1};
  std::optional<double> jobs_per_hour;
  bool saturate{false};
  double speed_noise{0};
  double miss_rate{0};
  double stall_rate{0};
  double drop_rate{0};
  double closing_rate{0};
  bool json{false};
  int runs{1};
  std::filesystem::path trace{"simulate.trace"};
  /// Where the carts' movement goes (movement_file.hpp); of one run only.
  std::filesystem::path movement;
  /// Instead of a run: feeds this trace to the core again and shows where it breaks.
  std::filesystem::path replay;
};

/// Gives 0, or 3 if a run broke an invariant (a trace is then written), left carts in a gridlock or
/// left one stuck. Throws BadInput.
int simulate(const SimulateOptions& options);

}  // namespace tagline::app
