// Schema versions. A released step is never edited: a change is a new step.
//
// Times are ms since 1970-01-01 UTC; carts, points, stations are textual ids.
#include "server/store/schema.hpp"

#include <SQLiteCpp/Transaction.h>

#include <algorithm>
#include <array>
#include <string>

#include "server/store/store.hpp"

namespace tagline::store {
namespace {

constexpr const char* schema_1 = R"sql(
-- One row: what holds for the whole service. `floor` and `tags` are the texts of floor_text.hpp.
CREATE TABLE service (
  one         INTEGER PRIMARY KEY CHECK (one = 1),
  floor       TEXT NOT NULL,
  tags        TEXT NOT NULL,
  latest      INTEGER NOT NULL,
  last_job    INTEGER NOT NULL,
  all_stopped INTEGER NOT NULL
) STRICT;
INSERT INTO service VALUES (1, '', '', 0, 0, 0);

CREATE TABLE jobs (
  id           INTEGER PRIMARY KEY,
  from_station TEXT NOT NULL,
  to_station   TEXT NOT NULL,
  state        TEXT NOT NULL,
  priority     INTEGER NOT NULL,
  note         TEXT NOT NULL,
  key          TEXT NOT NULL,
  cart         TEXT,
  created      INTEGER NOT NULL,
  changed      INTEGER NOT NULL,
  loaded_at    INTEGER,
  ended_at     INTEGER,
  reason       TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX jobs_by_key ON jobs (key) WHERE key <> '';
CREATE INDEX jobs_open ON jobs (id) WHERE state IN ('queued', 'assigned', 'loaded');
CREATE INDEX jobs_ended ON jobs (changed) WHERE state NOT IN ('queued', 'assigned', 'loaded');

-- Every change of a job's state or cart, for figures over time.
CREATE TABLE job_events (
  seq    INTEGER PRIMARY KEY,
  at     INTEGER NOT NULL,
  job    INTEGER NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
  state  TEXT NOT NULL,
  cart   TEXT,
  reason TEXT NOT NULL
) STRICT;
CREATE INDEX job_events_by_job ON job_events (job);
CREATE INDEX job_events_by_time ON job_events (at);

-- The latest path of each cart on the floor; `steps` is the text of path_text.hpp.
CREATE TABLE paths (
  cart  TEXT PRIMARY KEY,
  trip  INTEGER NOT NULL,
  job   INTEGER,
  steps TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The last step of that path the cart is known to have passed. Apart from `paths` because it
-- changes with every read, and a path is long.
CREATE TABLE passed (
  cart TEXT PRIMARY KEY REFERENCES paths (cart) ON DELETE CASCADE,
  step INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE carts (
  cart          TEXT PRIMARY KEY,
  needs_release INTEGER NOT NULL,
  loaded        INTEGER NOT NULL,
  doubt         TEXT NOT NULL,
  maybe_at      TEXT NOT NULL  -- point ids with a space between
) STRICT, WITHOUT ROWID;

-- Journal of passed points.
CREATE TABLE reads (
  seq   INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  cart  TEXT NOT NULL,
  point TEXT NOT NULL,
  step  INTEGER NOT NULL
) STRICT;

CREATE TABLE missed_tags (
  point     TEXT PRIMARY KEY,
  count     INTEGER NOT NULL,
  last_at   INTEGER NOT NULL,
  last_cart TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Inbox of tags the floor doesn't know; `cart` read it last.
CREATE TABLE unknown_tags (
  tag      TEXT PRIMARY KEY,
  count    INTEGER NOT NULL,
  first_at INTEGER NOT NULL,
  last_at  INTEGER NOT NULL,
  cart     TEXT NOT NULL
) STRICT, WITHOUT ROWID;
)sql";

// Jobs of several stops, due times, and loads that stand at stations. Every job before had two
// stops: its state says how many of them are done.
constexpr const char* schema_2 = R"sql(
ALTER TABLE jobs ADD COLUMN via TEXT NOT NULL DEFAULT '';  -- text of stops_text.hpp
ALTER TABLE jobs ADD COLUMN stops_done INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN due INTEGER;
UPDATE jobs SET stops_done = CASE state WHEN 'delivered' THEN 2 ELSE 1 END
  WHERE state IN ('loaded', 'stranded', 'delivered');

-- Loads at each station that has a capacity.
CREATE TABLE station_loads (
  station TEXT PRIMARY KEY,
  loads   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
)sql";

// That a database was put back from a backup, until the next start has seen to it.
constexpr const char* schema_3 = R"sql(
ALTER TABLE service ADD COLUMN restored INTEGER NOT NULL DEFAULT 0;
)sql";

// The journal of everything that the core was given: with what a run began from and its events,
// all decisions can be worked out again (runs.hpp).
constexpr const char* schema_4 = R"sql(
-- Floors that runs were made on, as floor files; one row serves all runs on an equal floor.
CREATE TABLE run_floors (
  id       INTEGER PRIMARY KEY,
  name     TEXT NOT NULL,
  document TEXT NOT NULL
) STRICT;

-- A run is from one start of the service to its end. Its blocks are those from first_block to the
-- next run's. `start` is of start_bytes.hpp; `ended` and `ending` stay null when it was killed.
CREATE TABLE runs (
  run         INTEGER PRIMARY KEY,
  began       INTEGER NOT NULL,
  program     TEXT NOT NULL,
  floor       INTEGER NOT NULL REFERENCES run_floors (id),
  first_block INTEGER NOT NULL,
  start       BLOB NOT NULL,
  ended       INTEGER,
  ending      TEXT
) STRICT;

-- `events` is a block of block.hpp, of `count` events, the first of which is number `first` of its
-- run (from 1). The last block of a run is written again as it grows.
CREATE TABLE run_events (
  block  INTEGER PRIMARY KEY,
  run    INTEGER NOT NULL,
  first  INTEGER NOT NULL,
  count  INTEGER NOT NULL,
  begins INTEGER NOT NULL,
  ends   INTEGER NOT NULL,
  events BLOB NOT NULL
) STRICT;
)sql";

// What is out of service, and the zones that are stopped.
constexpr const char* schema_5 = R"sql(
CREATE TABLE downtimes (
  kind   TEXT NOT NULL,    -- segment, station, cart
  id     TEXT NOT NULL,
  reason TEXT NOT NULL,
  since  INTEGER NOT NULL,
  until  INTEGER,          -- when it is expected back
  PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE stopped_zones (
  zone TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;
)sql";

// Who may come in. Secrets are kept as digests only: `password_hash` by Argon2id, `secret` by
// SHA-256.
constexpr const char* schema_6 = R"sql(
-- `key` is the name with small letters.
CREATE TABLE accounts (
  key           TEXT PRIMARY KEY,
  name          TEXT NOT NULL,
  role          TEXT NOT NULL,
  password_hash TEXT NOT NULL,
  created       INTEGER NOT NULL,
  last_seen     INTEGER
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
  secret    BLOB PRIMARY KEY,
  account   TEXT NOT NULL,  -- key of its account
  began     INTEGER NOT NULL,
  last_seen INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- `role` or, for a call button, the stations of its job.
CREATE TABLE tokens (
  id           TEXT PRIMARY KEY,
  name         TEXT NOT NULL,
  role         TEXT,
  from_station TEXT,
  to_station   TEXT,
  secret       BLOB NOT NULL UNIQUE,
  created      INTEGER NOT NULL,
  expires      INTEGER NOT NULL,
  last_used    INTEGER
) STRICT, WITHOUT ROWID;

-- The service's own key, which seals what browsers are known again by.
CREATE TABLE device_key (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  key TEXT NOT NULL
) STRICT;

-- AUTOINCREMENT: an id is never given twice, also when the latest entries were deleted.
CREATE TABLE audit (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  at           INTEGER NOT NULL,
  who          TEXT NOT NULL,
  what         TEXT NOT NULL,
  about        TEXT NOT NULL,
  from_address TEXT NOT NULL,
  outcome      TEXT NOT NULL
) STRICT;
)sql";

// Alarms that somebody has seen and that had not ended when they were last known.
constexpr const char* schema_7 = R"sql(
CREATE TABLE seen_alarms (
  cause TEXT PRIMARY KEY,
  who   TEXT NOT NULL,
  at    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
)sql";

// Sums of each quarter of an hour, which nothing else that is kept could tell later, and a way to
// jobs by when they were due.
constexpr const char* schema_8 = R"sql(
CREATE TABLE cart_quarters (
  quarter INTEGER NOT NULL,
  cart    TEXT NOT NULL,
  use     TEXT NOT NULL,  -- a word of figures/sums.hpp
  ms      INTEGER NOT NULL,
  PRIMARY KEY (quarter, cart, use)
) STRICT, WITHOUT ROWID;

-- Of carts that waited for the merge at `point`; `waits` began in the quarter.
CREATE TABLE merge_quarters (
  quarter INTEGER NOT NULL,
  point   TEXT NOT NULL,
  waits   INTEGER NOT NULL,
  ms      INTEGER NOT NULL,
  PRIMARY KEY (quarter, point)
) STRICT, WITHOUT ROWID;

CREATE TABLE tag_quarters (
  quarter INTEGER NOT NULL,
  point   TEXT NOT NULL,
  read    INTEGER NOT NULL,
  missed  INTEGER NOT NULL,
  PRIMARY KEY (quarter, point)
) STRICT, WITHOUT ROWID;

CREATE INDEX jobs_due ON jobs (due) WHERE due IS NOT NULL;
)sql";

constexpr std::array all_steps{
    Migration{1, schema_1}, Migration{2, schema_2}, Migration{3, schema_3}, Migration{4, schema_4},
    Migration{5, schema_5}, Migration{6, schema_6}, Migration{7, schema_7}, Migration{8, schema_8}};
static_assert(all_steps.back().to == schema_version);

int pragma(SQLite::Database& database, const std::string& name) {
  return database.execAndGet("PRAGMA " + name).getInt();
}

}  // namespace

std::span<const Migration> migrations() { return all_steps; }

void check_version(SQLite::Database& database, std::span<const Migration> steps,
                   const std::filesystem::path& file) {
  const int version = pragma(database, "user_version");
  const bool empty = database.execAndGet("SELECT count(*) FROM sqlite_schema").getInt() == 0;
  if (version == 0 && empty) return;
  if (version <= 0 || pragma(database, "application_id") != application_id) {
    throw StoreError(file.string() +
                     " is the database of another program. Choose another folder with --data.");
  }
  if (version > steps.back().to) {
    throw StoreError(file.string() + " was written by a newer version (schema " +
                     std::to_string(version) + "; this program knows up to " +
                     std::to_string(steps.back().to) +
                     "). Use that version, or choose another folder with --data.");
  }
  if (version < steps.front().to - 1) {
    throw StoreError(file.string() + " was written by a version too old for this program (schema " +
                     std::to_string(version) + "; it can start from " +
                     std::to_string(steps.front().to - 1) +
                     "). Open it once with a version between, or choose another folder with "
                     "--data.");
  }
}

void migrate(SQLite::Database& database, std::span<const Migration> steps) {
  for (const Migration& step : steps) {
    if (step.to <= pragma(database, "user_version")) continue;
    SQLite::Transaction transaction(database, SQLite::TransactionBehavior::IMMEDIATE);
    database.exec(step.sql);
    database.exec("PRAGMA application_id = " + std::to_string(application_id));
    database.exec("PRAGMA user_version = " + std::to_string(step.to));
    transaction.commit();
  }
}

}  // namespace tagline::store
