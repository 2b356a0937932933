// Changes of floor and fleet between two runs, worked into the recorded state.
#include "server/store/reconcile.hpp"

#include "server/store/floor_text.hpp"
#include "server/store/stops_text.hpp"

namespace tagline::store {
namespace {

struct OpenJob {
  std::int64_t id{};
  std::string from;
  std::string to;
  std::string state;
  std::string cart;  // "" if none
  std::string via;
};

std::vector<OpenJob> open_jobs(const SQLite::Database& database) {
  std::vector<OpenJob> jobs;
  Prepared(database,
           "SELECT id, from_station, to_station, state, coalesce(cart, ''), via FROM jobs "
           "WHERE state IN ('queued', 'assigned', 'loaded') ORDER BY id")
      .each([&](SQLite::Statement& row) {
        jobs.push_back({row.getColumn(0).getInt64(), row.getColumn(1).getString(),
                        row.getColumn(2).getString(), row.getColumn(3).getString(),
                        row.getColumn(4).getString(), row.getColumn(5).getString()});
      });
  return jobs;
}

/// The doubt of a cart that was on the floor when it was taken out of the fleet. Everything was
/// stopped for it once; it is kept for the case that the cart comes back.
constexpr std::string_view taken_out =
    "It was taken out of the fleet while on the floor; say where it stands.";

/// Carts that stand somewhere on the floor, or may: one in doubt with no place at all as well.
std::vector<std::string> carts_on_floor(const SQLite::Database& database) {
  std::vector<std::string> carts;
  Prepared(database,
           "SELECT cart FROM paths UNION SELECT cart FROM carts WHERE maybe_at <> '' OR "
           "doubt NOT IN ('', ?) ORDER BY cart")
      .each([&](SQLite::Statement& row) { carts.push_back(row.getColumn(0).getString()); },
            taken_out);
  return carts;
}

class Reconciler {
 public:
  Reconciler(SQLite::Database& database, const Names& names, Instant now)
      : database_(database), names_(names), now_(now) {}

  Reconciled run() {
    compare_floor();
    see_to_backup();
    for (const std::string& cart : carts_on_floor(database_)) {
      if (!names_.cart(cart)) {
        lose(cart, std::string(taken_out));
        note("Cart " + cart +
             " is no longer in the fleet but was on the floor. Everything is stopped: make sure "
             "that it is off the track, then release.");
      } else if (result_.floor_changed) {
        lose(cart, "The floor was changed while it was on it; say where it stands.");
      } else if (result_.from_backup) {
        lose(cart, "The record was put back from a backup; say where it stands.");
      }
    }
    for (const OpenJob& job : open_jobs(database_)) settle(job);
    forget_carts();
    forget_loads();
    forget_downtimes();
    return std::move(result_);
  }

 private:
  void note(std::string text) { result_.notes.push_back(std::move(text)); }

  void compare_floor() {
    const std::string floor = floor_text(names_.floor());
    const std::string tags = tag_text(names_.floor());
    std::string old_floor;
    std::string old_tags;
    Prepared(database_, "SELECT floor, tags FROM service").each([&](SQLite::Statement& row) {
      old_floor = row.getColumn(0).getString();
      old_tags = row.getColumn(1).getString();
    });
    if (!old_floor.empty()) {  // else the database is new
      std::string difference = floor_difference(old_floor, floor);
      if (difference.empty()) difference = moved_tag(old_tags, tags);
      if (!difference.empty()) {
        result_.floor_changed = true;
        stop_all();
        note("The floor is not the one last used (" + difference +
             "). Everything is stopped: say for every cart where it stands, then release.");
      }
    }
    if (floor != old_floor || tags != old_tags) {
      Prepared(database_, "UPDATE service SET floor = ?, tags = ?").run(floor, tags);
    }
  }

  void see_to_backup() {
    std::string until;
    Prepared(database_,
             "SELECT strftime('%Y-%m-%d %H:%M:%S UTC', latest / 1000, 'unixepoch') FROM service "
             "WHERE restored = 1")
        .each([&](SQLite::Statement& row) { until = row.getColumn(0).getString(); });
    if (until.empty()) return;
    result_.from_backup = true;
    stop_all();
    note("The record was put back from a backup that ends at " + until +
         ". What happened after that is not in it: a job may be listed as open though its load was "
         "moved. Everything is stopped: say for every cart where it stands, look through the open "
         "jobs, then release. Everybody is signed out; accounts and tokens are those of the "
         "backup, so take out whom you had taken out since.");
    Prepared(database_, "DELETE FROM sessions").run();
    Prepared(database_, "DELETE FROM seen_alarms").run();
    Prepared(database_, "UPDATE service SET restored = 0").run();
  }

  void stop_all() { Prepared(database_, "UPDATE service SET all_stopped = 1").run(); }

  void lose(const std::string& cart, const std::string& why) {
    stop_all();
    Prepared(database_, "DELETE FROM paths WHERE cart = ?").run(cart);
    Prepared(database_,
             "INSERT INTO carts (cart, needs_release, loaded, doubt, maybe_at) "
             "VALUES (?1, 1, 0, ?2, '') ON CONFLICT (cart) DO UPDATE SET needs_release = 1, "
             "doubt = ?2, maybe_at = ''")
        .run(cart, why);
  }

  void settle(const OpenJob& job) {
    const bool cart_gone = !job.cart.empty() && !names_.cart(job.cart);
    std::string gone;
    if (!names_.station(job.from)) {
      gone = "station " + job.from;
    } else if (!names_.station(job.to)) {
      gone = "station " + job.to;
    } else if (const std::string missing = stops_from(names_, job.via).missing; !missing.empty()) {
      gone = "station " + missing;
    }
    if (!gone.empty()) {
      end(job, "The floor was changed: " + gone + " is no longer on it.");
    } else if (cart_gone && job.state == "loaded") {
      end(job, "Cart " + job.cart + " is no longer in the fleet; its load must be looked for.");
    } else if (cart_gone) {
      change(job, "queued", "");
      note("Job " + std::to_string(job.id) + " is queued again: its cart " + job.cart +
           " is no longer in the fleet.");
    }
  }

  /// Of a cart that was off the floor nothing is left for another one that gets its name.
  void forget_carts() {
    std::vector<std::string> gone;
    Prepared(database_, "SELECT cart FROM carts WHERE doubt = '' ORDER BY cart")
        .each([&](SQLite::Statement& row) {
          std::string cart = row.getColumn(0).getString();
          if (!names_.cart(cart)) gone.push_back(std::move(cart));
        });
    Prepared forget(database_, "DELETE FROM carts WHERE cart = ?");
    for (const std::string& cart : gone) forget.run(cart);
  }

  void forget_loads() {
    std::vector<std::pair<std::string, int>> forgotten;
    Prepared(database_, "SELECT station, loads FROM station_loads ORDER BY station")
        .each([&](SQLite::Statement& row) {
          const std::string id = row.getColumn(0).getString();
          const auto station = names_.station(id);
          if (!station || !names_.floor()[*station].capacity)
            forgotten.emplace_back(id, row.getColumn(1).getInt());
        });
    Prepared forget(database_, "DELETE FROM station_loads WHERE station = ?");
    for (const auto& [id, loads] : forgotten) {
      forget.run(id);
      if (loads == 0) continue;
      note("Station " + id +
           (names_.station(id) ? " has no capacity any more" : " is no longer on the floor") +
           ": it is forgotten that " + std::to_string(loads) +
           (loads == 1 ? " load stood there." : " loads stood there."));
    }
  }

  void forget_downtimes() {
    std::vector<std::pair<std::string, std::string>> gone;
    Prepared(database_, "SELECT kind, id FROM downtimes ORDER BY kind, id")
        .each([&](SQLite::Statement& row) {
          std::string kind = row.getColumn(0).getString();
          std::string id = row.getColumn(1).getString();
          if (!names_.facility(kind, id)) gone.emplace_back(std::move(kind), std::move(id));
        });
    Prepared forget(database_, "DELETE FROM downtimes WHERE kind = ? AND id = ?");
    for (const auto& [kind, id] : gone) {
      forget.run(kind, id);
      note("There is no " + kind + " " + id + " any more, which was out of service.");
    }
    std::vector<std::string> zones;
    Prepared(database_, "SELECT zone FROM stopped_zones ORDER BY zone")
        .each([&](SQLite::Statement& row) {
          std::string id = row.getColumn(0).getString();
          if (!names_.floor().find_zone(id)) zones.push_back(std::move(id));
        });
    Prepared forget_zone(database_, "DELETE FROM stopped_zones WHERE zone = ?");
    for (const std::string& id : zones) {
      // Its track is open then, and nobody has looked whether people are clear.
      forget_zone.run(id);
      stop_all();
      note("Zone " + id +
           " was stopped and is no longer on the floor. Everything is stopped: see that people "
           "are clear, then release.");
    }
  }

  void end(const OpenJob& job, const std::string& reason) {
    const std::string state = job.state == "loaded" ? "stranded" : "cancelled";
    change(job, state, reason);
    note("Job " + std::to_string(job.id) + " (" + job.from + " to " + job.to + ") is " + state +
         ": " + reason);
  }

  void change(const OpenJob& job, const std::string& state, const std::string& reason) {
    std::optional<std::string> cart;
    std::optional<Instant> ended;
    if (state != "queued") {
      ended = now_;
      if (!job.cart.empty()) cart = job.cart;
    }
    Prepared(database_,
             "UPDATE jobs SET state = ?2, cart = ?3, changed = ?4, ended_at = ?5, reason = ?6 "
             "WHERE id = ?1")
        .run(job.id, state, cart, now_, ended, reason);
    Prepared(database_,
             "INSERT INTO job_events (at, job, state, cart, reason) VALUES (?, ?, ?, ?, ?)")
        .run(now_, job.id, state, cart, reason);
  }

  SQLite::Database& database_;
  const Names& names_;
  Instant now_;
  Reconciled result_;
};

}  // namespace

Reconciled reconcile(SQLite::Database& database, const Names& names, Instant now) {
  return Reconciler(database, names, now).run();
}

}  // namespace tagline::store
