// What anybody may see of the core: read-only snapshots, for the API, the board and the tests.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/outcome.hpp"

namespace tagline::control {

enum class CartMode {
  off_floor,      // not placed: the service doesn't know where it is, and it holds no track
  in_doubt,       // may be anywhere on the track it holds; a read or a person resolves it
  needs_release,  // known place, but a person must release it before it moves
  idle,           // at rest, free for a job
  driving,        // has authority ahead
  waiting,        // standing at the end of its authority: see `waits_for`
  handling,       // standing at a station, loading or unloading
  charging,       // at rest on a charger, battery below the level at which it takes jobs again
};
/// "off_floor", "in_doubt", ... as in the API.
std::string_view name_of(CartMode mode);
std::string_view name_of(Fault fault);
std::string_view name_of(StopCause cause);

/// Why a cart can't be given more track: the piece it wants and who is in the way.
struct WaitsFor {
  PieceIx piece;
  std::optional<CartIx> cart;
  Instant since;
};

struct CartView {
  CartIx cart;
  CartMode mode{CartMode::off_floor};
  bool connected{};
  bool loaded{};
  int battery{};
  Fault fault{Fault::none};
  /// Why it is in doubt or needs a release, one sentence; "" otherwise.
  std::string trouble;
  std::optional<JobId> job;
  std::uint64_t trip{};
  /// From the last point known to be passed to the place of rest; empty when off the floor.
  std::vector<PathStep> path;
  /// Index into `path` of the end of the authority.
  std::size_t authority{};
  /// When the cart was last known to be at path[0].
  Instant passed_at;
  std::vector<PieceIx> holds;
  std::optional<WaitsFor> waits_for;
};

enum class AlarmKind {
  link_lost,
  in_doubt,
  needs_release,
  fault,
  unknown_tag,
  missed_tag,
  battery_low,
  stranded_load,
  all_stopped,
  no_way,
};
std::string_view name_of(AlarmKind kind);

struct Alarm {
  std::uint64_t id{};
  AlarmKind kind{};
  std::optional<CartIx> cart;
  std::optional<JobId> job;
  std::optional<PointIx> point;
  /// What happened and what to do, one or two sentences.
  std::string text;
  Instant since;
};

}  // namespace tagline::control
