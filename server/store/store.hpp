// The service's memory on disk: SQLite in WAL mode through SQLiteCpp, one file `tagline.db` in the
// data folder. Jobs, cart paths and persons' commands are durable when write() returns; what is
// stored is textual ids, so that a changed floor can't silently re-number anything.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

#include "server/access/change.hpp"
#include "server/control/core.hpp"
#include "server/control/outcome.hpp"
#include "server/figures/sums.hpp"
#include "server/floor/ways.hpp"
#include "server/replay/block.hpp"
#include "server/replay/start_bytes.hpp"

namespace tagline::store {

/// The data folder or database can't be used; what() says where, what is wrong and what to do.
struct StoreError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Version of the schema this program writes. Older ones are migrated on opening, inside one
/// transaction; a newer one is refused.
inline constexpr int schema_version = 8;

/// A trace item with the moment it happened.
struct TimedTrace {
  Instant at;
  control::Trace what;
};

/// What one group commit writes.
struct Batch {
  std::vector<control::Record> records;
  std::vector<TimedTrace> trace;
  /// Events that the core was given, in their order, for the journal of the run.
  std::vector<replay::TimedEvent> events{};
  /// The run has ended: how, in a few words for a person.
  std::optional<std::string> ending{};
  /// Of who may come in, and what people did.
  std::vector<access::Change> access{};
  /// To be added to the figures over time.
  figures::Sums sums{};
};

/// What a run of the service begins from. With its events, that is all it takes to work out again
/// what the core decided (runs.hpp).
struct RunStart {
  /// The program's version.
  std::string program;
  std::string floor_name;
  /// The floor as a floor file.
  std::string floor_document;
  replay::Start core;
};

/// What was found on opening.
struct Found {
  control::Restored restored;
  /// The latest moment ever written; the service's clock must not start before it.
  Instant latest{};
  /// The floor differs from the one last used. Then no path is restored (every cart must be placed
  /// by a person; those that were on the floor are in doubt and need a release), and
  /// `restored.fleet.all_stopped` is set. Open jobs whose stations are gone have ended as
  /// cancelled, or as stranded if their load was on, with that reason; no Job can name a station
  /// the floor lacks, so they are in the database and in `notes` only. What stood at a station that
  /// is gone is forgotten, and told.
  /// Names, speeds, handling times, demand and tags added or taken away are no such difference; a
  /// tag that now marks another point is (floor_text.hpp).
  bool floor_changed{};
  /// The record was put back from a backup (backup.hpp): every cart that was on the floor in it is
  /// in doubt, and `restored.fleet.all_stopped` is set. Everybody is signed out: a session may have
  /// been ended since. Accounts and tokens are those of the backup.
  bool from_backup{};
  /// What a person should be told: what differs, which jobs ended by it, which carts are in doubt.
  /// Also what a change of the fleet did: a cart that was on the floor and is no longer in the
  /// fleet stops everything; its job is queued again, or stranded if its load was on.
  std::vector<std::string> notes;
};

/// One open database. Used by one thread at a time.
class Store {
 public:
  /// Creates the folder and database if missing, migrates, takes a lock so that a second service
  /// on the same data is refused. Throws StoreError.
  Store(const std::filesystem::path& folder, const floor::Ways& ways,
        std::vector<std::string> cart_names);
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  /// Everything recovery needs. Ended jobs of the last 24 h (counted from `now`, or from the
  /// latest moment written if that is later) are included. A path starts at the last step on it
  /// that a ReadTrace has told. Call it once, before the first write(). Throws StoreError.
  [[nodiscard]] Found load(Instant now);

  /// Writes all batches in one transaction, each batch's records before its trace; durable on
  /// return. Throws StoreError (disk full, read-only, an idempotency key that another job has),
  /// after which nothing of it is written. (If the disk fails while it syncs, nobody can tell what
  /// reached it: then a restart finds all of it or nothing.)
  /// A key belongs to its job until 24 h after that job ended; then a new job may take it.
  /// Events are kept only once a run has begun.
  void write(Instant now, std::span<const Batch> batches);

  /// A new run begins in the journal of events. Nothing of older ones is read. Throws StoreError.
  void begin_run(const RunStart& start);

  /// Deletes a little of what is older than `keep`: passed points, what happened to jobs that have
  /// ended, those jobs, and whole runs of the journal. Takes a few ms; call it about once a minute.
  /// - A job that is open stays, with all that happened to it.
  /// - A run goes as a whole, once its last event is too old: the start of a run is kept as long as
  ///   any of its events is, because none can be replayed without it. So a service that is never
  ///   restarted keeps all its events.
  /// - The audit log and the sums of the figures are kept as long.
  /// - Idempotency keys have a rule of their own (write()); `keep` is a day at least because of it.
  /// Throws StoreError.
  void tidy(Instant now, Duration keep);

  /// Who may come in. Throws StoreError.
  [[nodiscard]] access::Known known() const;
  /// The latest entries of the audit log, latest first; of those before number `before`, if given.
  /// Throws StoreError.
  [[nodiscard]] std::vector<access::AuditEntry> audit(std::size_t limit,
                                                      std::optional<std::uint64_t> before) const;

  /// A job of any age. Nothing if there is none, or if the floor lacks one of its stations.
  [[nodiscard]] std::optional<control::Job> job(control::JobId id);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tagline::store
