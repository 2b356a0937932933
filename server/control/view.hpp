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
  /// The track is free; `cart` is to pass there first.
  bool for_turn{false};
  /// It is out of service, or in a zone that is stopped.
  bool closed{false};
};

/// One link of the chain that says why something stands still. Which members are set depends on the
/// kind; the sentence for people is made of them by whoever shows it, and nothing is added there.
struct Reason {
  enum class Kind {
    // a cart
    held_track,      // `cart` waits at `point` for `piece`, which `other` holds
    turn,            // `cart` waits at `point` for `piece`, where `other` passes first
    way_out,         // `cart` waits at `point`: going on to `piece` would lock `other` in
    out_of_service,  // `cart` waits at `point` for `piece`, which a person has closed; or, without
                     // `piece`, it takes no jobs
    zone_stopped,    // `cart` at `point` was stopped with `zone`, or waits for `piece` in it
    driving,         // `cart` is driving; it has the track up to `point`
    handling,        // `cart` stands at `station`, being loaded or unloaded, since `since`
    resting,         // `cart` rests at `point` and has nothing to do
    charging,        // `cart` charges at `point`
    needs_release,   // `cart` stands at `point` until a person releases it
    in_doubt,        // nobody knows where `cart` is; it keeps all it could have reached
    not_connected,   // `cart` last seen at `point` has no link
    fault,           // `cart` at `point` reports `fault`
    greetings,       // the service has restarted and awaits the greeting of `cart`
    all_stopped,     // a person has stopped all carts
    off_floor,       // `cart` is not on the floor
    standing_load,   // `cart` has a load on that no job knows of
    // a job
    no_cart,       // `job`: no cart is on the floor, connected and in service
    no_cart_free,  // `job`: every cart is busy; `cart` is expected to be free first, at `until`
    planned_for,   // `job` is planned for `cart`, which is expected to be free at `until`
    others_first,  // `job`: the free carts are better used for other jobs
    station_down,  // `job`: `station` is out of service
    station_full,  // `job`: `count` loads stand at, or are on the way to, `station`
    no_way,        // `job`: no open way for any cart to `station`
    locked,        // `job`: `cart` can't turn to it now without locking a cart in
  };
  Kind kind{};
  std::optional<CartIx> cart{};
  std::optional<CartIx> other{};
  std::optional<JobId> job{};
  std::optional<PointIx> point{};
  std::optional<PieceIx> piece{};
  std::optional<StationIx> station{};
  std::optional<ZoneIx> zone{};
  std::optional<Instant> since{};
  std::optional<Instant> until{};
  Fault fault{Fault::none};
  int count{};
  /// For `handling`, if it is known which.
  std::optional<Handling> what{};
  bool operator==(const Reason&) const = default;
};
/// "held_track", "turn", ... as in the API.
std::string_view name_of(Reason::Kind kind);

/// When a job is expected to come about, if all goes on as planned now.
struct Expected {
  /// The cart reaches the place where it is loaded; nothing once it has.
  std::optional<Instant> pickup;
  /// It has been unloaded at the last stop.
  Instant delivery;
  bool operator==(const Expected&) const = default;
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
  handling_overdue,
  all_stopped,
  zone_stopped,
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
  /// What it is about besides, such as which fault: with another one it is another alarm.
  std::string detail{};
};

}  // namespace tagline::control
