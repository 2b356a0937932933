// `tagline check`: is a floor fit for carts, and for how many.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>

namespace tagline::app {

struct CheckOptions {
  std::filesystem::path floor;
  /// Nothing: as many as the demand needs, if the floor stays live with them (see carts_to_check).
  std::optional<std::size_t> carts;
  bool json{false};
  std::filesystem::path svg;  // empty: none
};

/// Prints the findings. Exit code 0 when carts may run, 1 when a finding forbids it. Throws
/// BadInput for a file that is no floor, or a drawing that can't be written.
int check(const CheckOptions& options);

}  // namespace tagline::app
