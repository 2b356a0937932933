// `tagline replay`: from the journal of the service, what it decided once more: any past moment,
// and every event with what came of it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

namespace tagline::app {

struct ReplayOptions {
  std::filesystem::path data;
  /// Default: the one that was going on at the moment asked for.
  std::optional<std::int64_t> run;
  std::string until, from;  // RFC 3339; "" if not given
  bool json{false};
};

/// Without a run and a moment: lists the runs. Else replays one and compares all that comes of its
/// events with what was written. Gives 0, or 3 if something comes out differently. Throws BadInput.
int replay(const ReplayOptions& options);

}  // namespace tagline::app
