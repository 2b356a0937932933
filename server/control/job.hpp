// A job as the core, the store and the API know it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

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

enum class Handling { load, unload };

/// A place where the cart is loaded or unloaded.
struct JobStop {
  StationIx station;
  Handling what{};
  bool operator==(const JobStop&) const = default;
};

/// One wish: move a load from a station to a station, perhaps with stops in between.
struct Job {
  JobId id;
  StationIx from;
  StationIx to;
  /// Stops between the first, where it is loaded, and the last, where it is unloaded; in turn.
  std::vector<JobStop> via;
  /// How many of all stops are done.
  std::size_t stops_done{0};
  JobState state{JobState::queued};
  /// 0 (can wait) to 9 (first of all); 5 unless asked.
  int priority{5};
  /// Free text of the person who asked, at most 200 bytes.
  std::string note;
  /// The client's idempotency key; "" if none.
  std::string key;
  /// When it should be delivered, if that was said.
  std::optional<Instant> due;
  std::optional<CartIx> cart;
  Instant created;
  /// When the job entered its present state.
  Instant changed;
  std::optional<Instant> loaded_at;
  std::optional<Instant> ended_at;
  /// Why it ended other than delivered; "" otherwise.
  std::string reason;

  [[nodiscard]] std::size_t stop_count() const { return via.size() + 2; }
  [[nodiscard]] JobStop stop(std::size_t i) const {
    if (i == 0) return {from, Handling::load};
    return i <= via.size() ? via[i - 1] : JobStop{to, Handling::unload};
  }
  bool operator==(const Job&) const = default;
};

}  // namespace tagline::control
