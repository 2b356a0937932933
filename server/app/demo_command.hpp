// `tagline demo`: the service and virtual carts as two child processes, with the demo standing in
// for the people: it says where each cart was set down, and keeps jobs coming.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

namespace tagline::app {

struct DemoOptions {
  std::filesystem::path floor;  // empty: the shipped demo works
  std::filesystem::path fleet;  // empty: its fleet
  std::filesystem::path data;   // empty: a fresh folder, removed at the end
  std::filesystem::path web;    // empty: the shipped page
  std::uint16_t port{8080};
  int pace{1};
  std::uint64_t seed{1};
  std::optional<int> carts;  // the first so many of the fleet
  bool jobs{true};
  std::optional<double> jobs_per_hour;  // of the service's clock; nothing: the floor's demand
};

/// Runs until SIGINT or SIGTERM (exit code 0) or until one of the children ends by itself (1, or 2
/// if the child found its input bad). Throws BadInput.
int demo(const DemoOptions& options);

}  // namespace tagline::app
