// Everything the core can want done. The caller's duty, in this order: make `records` durable,
// then let `messages` and `answers` out, then tell watchers of `changes`. `trace` may be written
// later, behind the hot path. Outcomes must be carried out in the order they were produced.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/job.hpp"
#include "server/floor/ids.hpp"
#include "server/floor/ways.hpp"

namespace tagline::control {

// ---- records: what recovery needs ------------------------------------------------------------

/// What a cart is to do at one point of its path.
enum class Act { go, load, unload, rest };

/// One point of a cart's path.
struct PathStep {
  Step step{};
  PoseIx pose;
  Act act{Act::go};
  bool operator==(const PathStep&) const = default;
};

/// The job, whole, as it now is.
struct JobRecord {
  Job job;
};

/// The whole path of a cart from the last point it is known to have passed to its place of rest.
/// Replaces the one before. Empty `path`: the cart is nowhere on the floor.
struct PathRecord {
  CartIx cart;
  std::uint64_t trip{};
  std::optional<JobId> job;
  std::vector<PathStep> path;
};

/// What must be remembered of a cart besides its path.
struct CartRecord {
  CartIx cart;
  /// A person's stop is in force, or a person must release it for another reason.
  bool needs_release{};
  bool loaded{};
  /// Its position is in doubt; `doubt` says why. "" = known.
  std::string doubt;
  /// Points it may have reached besides its path (I8), set while in doubt.
  std::vector<PointIx> maybe_at;

  bool operator==(const CartRecord&) const = default;
};

struct FleetRecord {
  bool all_stopped{};
};

/// How many loads stand at a station that has a capacity.
struct StationRecord {
  StationIx station;
  int loads{};
};

/// Something is out of service; without a `downtime` it is back.
struct DowntimeRecord {
  Facility what;
  std::optional<Downtime> downtime;
};

/// A zone's stop is in force, or not any more.
struct ZoneRecord {
  ZoneIx zone;
  bool stopped{};
};

using Record = std::variant<JobRecord, PathRecord, CartRecord, FleetRecord, StationRecord,
                            DowntimeRecord, ZoneRecord>;

// ---- messages to carts -----------------------------------------------------------------------

/// What to do at a point, as the cart is told: `wait` ends an authority that will go on,
/// `stop` ends the trip.
enum class ToldAct { go, turn, stop, wait, load, unload };

struct ToldPoint {
  Step step{};
  PointIx point;
  ToldAct act{ToldAct::go};
  /// How it gets here from the point before (unused for the first).
  floor::Branch branch{floor::Branch::straight};
  floor::Gear gear{floor::Gear::forward};
  Mm length;
  MmPerS speed;
};
struct TellAuthority {
  CartIx cart;
  std::uint64_t trip{};
  std::vector<ToldPoint> points;
};
struct TellHold {
  CartIx cart;
  std::string reason;
};
struct TellStop {
  CartIx cart;
  std::string reason;
};
struct TellRelease {
  CartIx cart;
};
/// Forget step, until and authority.
struct TellReset {
  CartIx cart;
};
/// A person says that it is loaded, or unloaded, at this step.
struct TellHandled {
  CartIx cart;
  Step step{};
  Handling what{};
};
using Message =
    std::variant<TellAuthority, TellHold, TellStop, TellRelease, TellReset, TellHandled>;

// ---- answers to people -----------------------------------------------------------------------

enum class Refused { unknown, conflict, invalid, key_reused };  // HTTP 404, 409, 422, 422
struct Refusal {
  Refused kind{};
  /// What is wrong and what to do, one or two sentences.
  std::string detail;
};
struct JobTaken {
  JobId job;
  /// The same idempotency key was seen before: this is the job it made then.
  bool repeated{};
};
struct Accepted {};
struct Answer {
  RequestId request{};
  std::variant<JobTaken, Accepted, Refusal> what;
};

// ---- changes for watchers --------------------------------------------------------------------

struct JobChanged {
  JobId job;
};
struct CartChanged {
  CartIx cart;
};
struct AlarmsChanged {};
struct FleetChanged {};
/// The loads counted at a station with a capacity.
struct StationChanged {
  StationIx station;
};
/// What is out of service, or which zones are stopped.
struct ServiceChanged {};
using Change = std::variant<JobChanged, CartChanged, AlarmsChanged, FleetChanged, StationChanged,
                            ServiceChanged>;

// ---- trace: history, not needed for recovery -------------------------------------------------

/// Cart passed a point. `missed` lists points between this read and the one before whose tags
/// were not read.
struct ReadTrace {
  CartIx cart;
  PointIx point;
  Step step{};
  std::vector<PointIx> missed;
};
struct UnknownTagTrace {
  CartIx cart;
  std::string tag;
};
using Trace = std::variant<ReadTrace, UnknownTagTrace>;

struct Outcome {
  std::vector<Record> records;
  std::vector<Message> messages;
  std::vector<Answer> answers;
  std::vector<Change> changes;
  std::vector<Trace> trace;
};

}  // namespace tagline::control
