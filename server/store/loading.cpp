// The queries that rebuild jobs, paths and carts.
#include "server/store/loading.hpp"

#include <map>

#include "server/store/path_text.hpp"
#include "server/store/stops_text.hpp"

namespace tagline::store {
namespace {

constexpr const char* job_columns =
    "SELECT id, from_station, to_station, state, priority, note, key, cart, created, changed, "
    "loaded_at, ended_at, reason, via, stops_done, due FROM jobs ";

std::optional<Instant> moment(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return from_ms(column.getInt64());
}

/// What a value is refused with that no version of this program writes.
StoreError edited_by_hand(const Loading& loading, control::JobId job, const std::string& what) {
  return StoreError{loading.file.string() + ": job " + std::to_string(job.value) + " has the " +
                    what +
                    ", which this program doesn't know. Undo the change made to the file by hand, "
                    "or put a backup in its place."};
}

/// Nothing if the floor lacks one of its stations.
std::optional<control::Job> job_of(SQLite::Statement& row, const Loading& loading) {
  control::Job job;
  job.id = {static_cast<std::uint64_t>(row.getColumn(0).getInt64())};
  const auto from = loading.names.station(row.getColumn(1).getString());
  const auto to = loading.names.station(row.getColumn(2).getString());
  const std::string state = row.getColumn(3).getString();
  const auto known_state = control::job_state_from(state);
  if (!known_state) throw edited_by_hand(loading, job.id, "state \"" + state + "\"");
  const std::string via = row.getColumn(13).getString();
  StopsRead stops = stops_from(loading.names, via);
  const int stops_done = row.getColumn(14).getInt();
  if (stops.malformed) throw edited_by_hand(loading, job.id, "stops \"" + via + "\"");
  if (!from || !to || !stops.missing.empty()) return std::nullopt;
  job.via = std::move(stops.stops);
  if (stops_done < 0 || static_cast<std::size_t>(stops_done) > job.stop_count()) {
    throw edited_by_hand(loading, job.id, "number of stops done " + std::to_string(stops_done));
  }
  job.stops_done = static_cast<std::size_t>(stops_done);
  job.due = moment(row.getColumn(15));
  job.from = *from;
  job.to = *to;
  job.state = *known_state;
  job.priority = row.getColumn(4).getInt();
  job.note = row.getColumn(5).getString();
  job.key = row.getColumn(6).getString();
  job.cart = loading.names.cart(row.getColumn(7).getString());
  job.created = from_ms(row.getColumn(8).getInt64());
  job.changed = from_ms(row.getColumn(9).getInt64());
  job.loaded_at = moment(row.getColumn(10));
  job.ended_at = moment(row.getColumn(11));
  job.reason = row.getColumn(12).getString();
  return job;
}

/// Adds the points of a space-separated list that the floor has; false if it lacks one.
bool add_points(const floor::Floor& floor, const std::string& list, std::vector<PointIx>& points) {
  bool whole = true;
  for (std::size_t start = 0; start < list.size();) {
    const std::size_t end = std::min(list.find(' ', start), list.size());
    if (const auto point = floor.find_point(list.substr(start, end - start))) {
      points.push_back(*point);
    } else {
      whole = false;
    }
    start = end + 1;
  }
  return whole;
}

}  // namespace

std::vector<control::Job> Loading::jobs(Instant ended_since) const {
  std::vector<control::Job> found;
  const auto take = [&](SQLite::Statement& row) {
    if (auto job = job_of(row, *this)) found.push_back(std::move(*job));
  };
  // Two selections, so that each can use its partial index.
  Prepared(database, (std::string("SELECT * FROM (") + job_columns +
                      "WHERE state IN ('queued', 'assigned', 'loaded') UNION ALL " + job_columns +
                      "WHERE state NOT IN ('queued', 'assigned', 'loaded') AND changed >= ?) "
                      "ORDER BY id")
                         .c_str())
      .each(take, ended_since);
  return found;
}

std::optional<control::Job> Loading::job(control::JobId id) const {
  std::optional<control::Job> found;
  Prepared(database, (std::string(job_columns) + "WHERE id = ?").c_str())
      .each([&](SQLite::Statement& row) { found = job_of(row, *this); }, id.value);
  return found;
}

void Loading::carts(control::Restored& into, std::vector<std::string>& notes) const {
  std::map<CartIx, control::CartRecord> records;
  Prepared(database, "SELECT cart, needs_release, loaded, doubt, maybe_at FROM carts")
      .each([&](SQLite::Statement& row) {
        const auto cart = names.cart(row.getColumn(0).getString());
        if (!cart) return;
        control::CartRecord& record = records[*cart];
        record.cart = *cart;
        record.needs_release = row.getColumn(1).getInt() != 0;
        record.loaded = row.getColumn(2).getInt() != 0;
        record.doubt = row.getColumn(3).getString();
        if (!add_points(names.floor(), row.getColumn(4).getString(), record.maybe_at)) {
          record.doubt = "Part of where it may stand could not be read from " + file.string() +
                         "; say where it stands.";
          notes.push_back("Cart " + names.of(*cart) + " is in doubt: " + record.doubt);
        }
      });

  std::map<CartIx, control::PathRecord> paths;
  Prepared(database,
           "SELECT cart, trip, job, paths.steps, passed.step FROM paths JOIN passed USING (cart)")
      .each([&](SQLite::Statement& row) {
        const auto cart = names.cart(row.getColumn(0).getString());
        if (!cart) return;
        PathRead read = path_from(names.ways(), row.getColumn(3).getString(),
                                  static_cast<control::Step>(row.getColumn(4).getInt64()));
        if (read.broken || read.path.empty()) {
          control::CartRecord& record = records[*cart];
          record.cart = *cart;
          record.doubt = "Its recorded path does not fit the floor; say where it stands.";
          record.maybe_at.insert(record.maybe_at.end(), read.points.begin(), read.points.end());
          notes.push_back("Cart " + names.of(*cart) + " is in doubt: " + record.doubt);
          return;
        }
        control::PathRecord& record = paths[*cart];
        record.cart = *cart;
        record.trip = static_cast<std::uint64_t>(row.getColumn(1).getInt64());
        if (!row.getColumn(2).isNull()) {
          record.job = control::JobId{static_cast<std::uint64_t>(row.getColumn(2).getInt64())};
        }
        record.path = std::move(read.path);
      });

  for (auto& [cart, record] : records) into.carts.push_back(std::move(record));
  for (auto& [cart, record] : paths) into.paths.push_back(std::move(record));
}

void Loading::service(control::Restored& into) const {
  Prepared(database, "SELECT last_job, all_stopped FROM service").each([&](SQLite::Statement& row) {
    into.last_job = static_cast<std::uint64_t>(row.getColumn(0).getInt64());
    into.fleet.all_stopped = row.getColumn(1).getInt() != 0;
  });
  Prepared(database, "SELECT station, loads FROM station_loads ORDER BY station")
      .each([&](SQLite::Statement& row) {
        const auto station = names.station(row.getColumn(0).getString());
        if (station) into.stations.push_back({*station, row.getColumn(1).getInt()});
      });
  Prepared(database, "SELECT kind, id, reason, since, until FROM downtimes ORDER BY kind, id")
      .each([&](SQLite::Statement& row) {
        const auto what =
            names.facility(row.getColumn(0).getString(), row.getColumn(1).getString());
        if (!what) return;
        into.downtimes.push_back({*what, row.getColumn(2).getString(),
                                  from_ms(row.getColumn(3).getInt64()), moment(row.getColumn(4))});
      });
  Prepared(database, "SELECT zone FROM stopped_zones ORDER BY zone")
      .each([&](SQLite::Statement& row) {
        const auto zone = names.floor().find_zone(row.getColumn(0).getString());
        if (zone) into.stopped_zones.push_back(*zone);
      });
}

Instant Loading::latest() const {
  return from_ms(database.execAndGet("SELECT latest FROM service").getInt64());
}

}  // namespace tagline::store
