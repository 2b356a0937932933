// A job as the core, the store and the API know it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::control {

struct JobId {
  std::uint64_t value{};
  constexpr auto operator<=>(const JobId&) const = default;
};

/// queued -> assigned -> loaded -> delivered;  queued | assigned -> cancelled;
/// assigned -> queued (its cart was lost before the load was on);
/// loaded -> stranded (its cart was taken off or lost with the load on: a person must look).
enum class JobState { queued, assigned, loaded, delivered, cancelled, stranded };

/// "queued", "assigned", ... as used in the API and the database.
std::string_view name_of(JobState state);
std::optional<JobState> job_state_from(std::string_view name);
/// Nothing more will happen to the job.
constexpr bool is_final(JobState state) {
  return state == JobState::delivered || state == JobState::cancelled ||
         state == JobState::stranded;
}

/// One wish: move a load from a station to a station.
struct Job {
  JobId id;
  StationIx from;
  StationIx to;
  JobState state{JobState::queued};
  /// 0 (can wait) to 9 (first of all); 5 unless asked.
  int priority{5};
  /// Free text of the person who asked, at most 200 bytes.
  std::string note;
  /// The client's idempotency key; "" if none.
  std::string key;
  std::optional<CartIx> cart;
  Instant created;
  /// When the job entered its present state.
  Instant changed;
  std::optional<Instant> loaded_at;
  std::optional<Instant> ended_at;
  /// Why it ended other than delivered; "" otherwise.
  std::string reason;
};

}  // namespace tagline::control
