// Runs another command of this same program to its end, at lowest priority and within bounds, and
// gives what it printed: for what may take long, or much memory, beside a service that must not
// notice.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tagline::app {

struct SideRun {
  int exit_code{};
  std::string printed{};
  /// What it said on standard error.
  std::string complained{};
};

/// What a run may take before it is killed.
struct SideBounds {
  std::chrono::milliseconds time{60'000};
  /// On a busy machine what has the lowest priority may wait for long without working at all.
  std::chrono::seconds processor{20};
  /// Bytes.
  std::uint64_t memory{std::uint64_t{2} << 30};
};

/// `arguments` are those after the program's name; what it prints goes by way of the file
/// `print_to`, and one beside it, which are removed afterwards. Nothing if it took more time than
/// `most` says, or `given_up` became true: it is killed then. Beyond its memory it ends by itself,
/// with an exit code. Throws std::runtime_error if it can't be started.
std::optional<SideRun> run_aside(const std::filesystem::path& program,
                                 const std::vector<std::string>& arguments,
                                 const std::filesystem::path& print_to, const SideBounds& most,
                                 const std::atomic<bool>& given_up);

}  // namespace tagline::app
