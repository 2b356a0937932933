// A drawn floor tried out beside a running service: the program's own `check` and then its own
// `simulate`, each a child process of lowest priority that may take so much and no more.
#pragma once

#include <atomic>
#include <filesystem>

#include "server/app/side_program.hpp"
#include "server/net/floor_office.hpp"

namespace tagline::app {

/// Of each of the two processes.
inline constexpr SideBounds standard_tryout_bounds{.time = std::chrono::minutes(3),
                                                   .processor = std::chrono::seconds(60),
                                                   .memory = std::uint64_t{1} << 30};

struct TryoutSetup {
  /// This one.
  std::filesystem::path program;
  /// What is on its way between the processes goes through files there (tryout.*), which are
  /// removed again.
  std::filesystem::path folder;
  SideBounds most{standard_tryout_bounds};
};

/// Not twice at a time with one folder. Throws std::runtime_error if a process can't be started or
/// breaks off.
net::Tryout run_tryout(const TryoutSetup& setup, const net::TryoutWish& wish,
                       const std::atomic<bool>& ended);

}  // namespace tagline::app
