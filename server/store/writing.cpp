// The statements that write, and which record goes through which.
#include "server/store/writing.hpp"

#include <algorithm>
#include <variant>

#include "server/store/path_text.hpp"
#include "server/store/stops_text.hpp"

namespace tagline::store {

Writer::Writer(const SQLite::Database& database, const Names& names)
    : names_(&names),
      advance_(database, "UPDATE service SET latest = max(latest, ?), last_job = max(last_job, ?)"),
      set_all_stopped_(database, "UPDATE service SET all_stopped = ?"),
      forget_key_(database,
                  "UPDATE jobs SET key = '' WHERE key = ?1 AND key <> '' AND id <> ?2 "
                  "AND state NOT IN ('queued', 'assigned', 'loaded') AND changed < ?3"),
      find_job_(database, "SELECT state, cart FROM jobs WHERE id = ?"),
      put_job_(database,
               "INSERT INTO jobs (id, from_station, to_station, state, priority, note, key, cart, "
               "created, changed, loaded_at, ended_at, reason, via, stops_done, due) "
               "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16) "
               "ON CONFLICT (id) DO UPDATE SET from_station = ?2, to_station = ?3, state = ?4, "
               "priority = ?5, note = ?6, key = ?7, cart = ?8, created = ?9, changed = ?10, "
               "loaded_at = ?11, ended_at = ?12, reason = ?13, via = ?14, stops_done = ?15, "
               "due = ?16"),
      add_job_event_(
          database, "INSERT INTO job_events (at, job, state, cart, reason) VALUES (?, ?, ?, ?, ?)"),
      delete_path_(database, "DELETE FROM paths WHERE cart = ?"),
      put_path_(database,
                "INSERT INTO paths (cart, trip, job, steps) VALUES (?1, ?2, ?3, ?4) "
                "ON CONFLICT (cart) DO UPDATE SET trip = ?2, job = ?3, steps = ?4"),
      put_passed_(database,
                  "INSERT INTO passed (cart, step) VALUES (?1, ?2) "
                  "ON CONFLICT (cart) DO UPDATE SET step = ?2"),
      // Only a read that lies on the path counts: a trace may come after the path it was read on
      // was replaced, and cutting off too much would free track the cart stands on.
      move_passed_(database,
                   "UPDATE passed SET step = ?2 WHERE cart = ?1 AND step < ?2 AND "
                   "(SELECT instr(steps, ?3) FROM paths WHERE paths.cart = ?1) > 0"),
      put_cart_(database,
                "INSERT INTO carts (cart, needs_release, loaded, doubt, maybe_at) "
                "VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (cart) DO UPDATE SET needs_release = ?2, "
                "loaded = ?3, doubt = ?4, maybe_at = ?5"),
      put_loads_(database,
                 "INSERT INTO station_loads (station, loads) VALUES (?1, ?2) "
                 "ON CONFLICT (station) DO UPDATE SET loads = ?2"),
      put_downtime_(database,
                    "INSERT INTO downtimes (kind, id, reason, since, until) "
                    "VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (kind, id) DO UPDATE SET reason = ?3, "
                    "since = ?4, until = ?5"),
      end_downtime_(database, "DELETE FROM downtimes WHERE kind = ? AND id = ?"),
      stop_zone_(database, "INSERT INTO stopped_zones (zone) VALUES (?) ON CONFLICT DO NOTHING"),
      release_zone_(database, "DELETE FROM stopped_zones WHERE zone = ?"),
      add_read_(database, "INSERT INTO reads (at, cart, point, step) VALUES (?, ?, ?, ?)"),
      count_missed_(database,
                    "INSERT INTO missed_tags (point, count, last_at, last_cart) "
                    "VALUES (?1, 1, ?2, ?3) "
                    "ON CONFLICT (point) DO UPDATE SET count = count + 1, last_at = ?2, "
                    "last_cart = ?3"),
      count_unknown_(database,
                     "INSERT INTO unknown_tags (tag, count, first_at, last_at, cart) "
                     "VALUES (?1, 1, ?2, ?2, ?3) "
                     "ON CONFLICT (tag) DO UPDATE SET count = count + 1, last_at = ?2, cart = ?3") {
}

void Writer::write(Instant now, std::span<const Batch> batches) {
  Instant latest = now;
  highest_job_ = 0;
  for (const Batch& batch : batches) {
    for (const control::Record& record : batch.records) {
      std::visit([&](const auto& it) { put(now, it); }, record);
    }
    for (const TimedTrace& timed : batch.trace) {
      latest = std::max(latest, timed.at);
      std::visit([&](const auto& it) { trace(timed.at, it); }, timed.what);
    }
  }
  advance_.run(latest, highest_job_);
}

void Writer::put(Instant now, const control::JobRecord& record) {
  const control::Job& job = record.job;
  const std::string state(control::name_of(job.state));
  std::optional<std::string> cart;
  if (job.cart) cart = names_->of(*job.cart);

  bool known = false;
  bool other_state = true;
  bool other_cart = true;
  find_job_.each(
      [&](SQLite::Statement& row) {
        const SQLite::Column old_cart = row.getColumn(1);
        known = true;
        other_state = row.getColumn(0).getString() != state;
        other_cart = cart ? old_cart.isNull() || old_cart.getString() != *cart : !old_cart.isNull();
      },
      job.id.value);
  highest_job_ = std::max(highest_job_, job.id.value);
  // The index on keys refuses a second job with a key that is still remembered.
  if (!known && !job.key.empty()) {
    forget_key_.run(job.key, job.id.value, now - memory_of_ended_jobs);
  }
  put_job_.run(job.id.value, names_->of(job.from), names_->of(job.to), state, job.priority,
               job.note, job.key, cart, job.created, job.changed, job.loaded_at, job.ended_at,
               job.reason, stops_text(*names_, job.via), static_cast<std::uint64_t>(job.stops_done),
               job.due);
  if (other_state || other_cart) {
    add_job_event_.run(other_state ? job.changed : now, job.id.value, state, cart, job.reason);
  }
}

void Writer::put(Instant /*now*/, const control::PathRecord& record) {
  const std::string& cart = names_->of(record.cart);
  if (record.path.empty()) {
    delete_path_.run(cart);  // and with it its row in `passed`
    return;
  }
  std::optional<std::uint64_t> job;
  if (record.job) job = record.job->value;
  put_path_.run(cart, record.trip, job, path_text(names_->ways(), record.path));
  put_passed_.run(cart, record.path.front().step);
}

void Writer::put(Instant /*now*/, const control::CartRecord& record) {
  std::string maybe_at;
  for (const PointIx point : record.maybe_at) {
    if (!maybe_at.empty()) maybe_at += ' ';
    maybe_at += names_->of(point);
  }
  put_cart_.run(names_->of(record.cart), record.needs_release, record.loaded, record.doubt,
                maybe_at);
}

void Writer::put(Instant /*now*/, const control::FleetRecord& record) {
  set_all_stopped_.run(record.all_stopped);
}

void Writer::put(Instant /*now*/, const control::StationRecord& record) {
  put_loads_.run(names_->of(record.station), record.loads);
}

void Writer::put(Instant /*now*/, const control::DowntimeRecord& record) {
  const auto kind = Names::kind_of(record.what);
  const std::string& id = names_->of(record.what);
  if (record.downtime) {
    put_downtime_.run(kind, id, record.downtime->reason, record.downtime->from,
                      record.downtime->until);
  } else {
    end_downtime_.run(kind, id);
  }
}

void Writer::put(Instant /*now*/, const control::ZoneRecord& record) {
  (record.stopped ? stop_zone_ : release_zone_).run(names_->floor()[record.zone].id);
}

void Writer::trace(Instant at, const control::ReadTrace& read) {
  const std::string& cart = names_->of(read.cart);
  const std::string& point = names_->of(read.point);
  add_read_.run(at, cart, point, read.step);
  move_passed_.run(cart, read.step, step_at_point(read.step, point));
  for (const PointIx missed : read.missed) count_missed_.run(names_->of(missed), at, cart);
}

void Writer::trace(Instant at, const control::UnknownTagTrace& unknown) {
  count_unknown_.run(unknown.tag, at, names_->of(unknown.cart));
}

}  // namespace tagline::store
