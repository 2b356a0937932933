// See retention.hpp. Rows are taken in the order in which they were written, by the keys and
// indexes they have anyway, so that it costs the same however much there is.
#include "server/store/retention.hpp"

namespace tagline::store {
namespace {

/// At one time, as much as 500 carts write in the 5 s between two times (a read of a tag each 5 s).
constexpr int most_rows = 500;
/// A job has about five events, which go with it; a block is a thousand bytes and more.
constexpr int most_jobs = 100, most_blocks = 100;

}  // namespace

Retention::Retention(const SQLite::Database& database)
    : reads_(database,
             "DELETE FROM reads WHERE seq IN (SELECT seq FROM reads ORDER BY seq LIMIT ?2) "
             "AND at < ?1"),
      job_events_(database,
                  "DELETE FROM job_events WHERE seq IN (SELECT seq FROM job_events "
                  "WHERE at < ?1 AND job NOT IN (SELECT id FROM jobs "
                  "WHERE state IN ('queued', 'assigned', 'loaded')) ORDER BY at LIMIT ?2)"),
      jobs_(database,
            "DELETE FROM jobs WHERE id IN (SELECT id FROM jobs "
            "WHERE state NOT IN ('queued', 'assigned', 'loaded') AND changed < ?1 "
            "ORDER BY changed LIMIT ?2)"),
      // The first run of all, if it is not the last; its blocks end where the next one's begin.
      // First the run, then its blocks: half a run is never shown.
      run_(database,
           "DELETE FROM runs WHERE run = (SELECT min(run) FROM runs) "
           "AND run < (SELECT max(run) FROM runs) AND began < ?1 "
           "AND coalesce(ended, began) < ?1 AND coalesce((SELECT ends FROM run_events "
           "WHERE block < (SELECT first_block FROM runs AS later WHERE later.run > runs.run "
           "ORDER BY later.run LIMIT 1) AND block >= runs.first_block "
           "ORDER BY block DESC LIMIT 1), 0) < ?1"),
      blocks_(database,
              "DELETE FROM run_events WHERE block IN (SELECT block FROM run_events "
              "ORDER BY block LIMIT ?1) AND block < (SELECT min(first_block) FROM runs)"),
      audit_(database,
             "DELETE FROM audit WHERE id IN (SELECT id FROM audit ORDER BY id LIMIT ?2) "
             "AND at < ?1"),
      floors_(database, "DELETE FROM run_floors WHERE id NOT IN (SELECT floor FROM runs)"),
      cart_quarters_(database,
                     "DELETE FROM cart_quarters WHERE (quarter, cart, use) IN (SELECT quarter, "
                     "cart, use FROM cart_quarters WHERE quarter < ?1 ORDER BY quarter LIMIT ?2)"),
      merge_quarters_(database,
                      "DELETE FROM merge_quarters WHERE (quarter, point) IN (SELECT quarter, point "
                      "FROM merge_quarters WHERE quarter < ?1 ORDER BY quarter LIMIT ?2)"),
      tag_quarters_(database,
                    "DELETE FROM tag_quarters WHERE (quarter, point) IN (SELECT quarter, point "
                    "FROM tag_quarters WHERE quarter < ?1 ORDER BY quarter LIMIT ?2)") {}

void Retention::remove_some(Instant before) {
  reads_.run(before, most_rows);
  audit_.run(before, most_rows);
  cart_quarters_.run(before, most_rows);
  merge_quarters_.run(before, most_rows);
  tag_quarters_.run(before, most_rows);
  job_events_.run(before, most_rows);
  jobs_.run(before, most_jobs);
  if (run_.run(before) > 0) floors_.run();
  blocks_.run(most_blocks);
}

}  // namespace tagline::store
