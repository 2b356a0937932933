// See figure_reader.hpp.
#include "server/store/figure_reader.hpp"

#include <SQLiteCpp/SQLiteCpp.h>
#include <sqlite3.h>

#include <map>
#include <string>
#include <utility>

#include "server/store/database.hpp"
#include "server/store/errors.hpp"
#include "server/store/prepared.hpp"

namespace tagline::store {
namespace {

using SteadyTime = std::chrono::steady_clock::time_point;

/// Steps of SQLite's machine between two looks at the clock: well under a millisecond.
constexpr int steps_between_clocks = 10'000;

std::optional<Instant> moment_or_none(const SQLite::Column& column) {
  if (column.isNull()) return std::nullopt;
  return from_ms(column.getInt64());
}

std::vector<figures::JobRow> read_jobs(const SQLite::Database& database, const char* sql,
                                       const figures::Range& range, int most) {
  std::vector<figures::JobRow> jobs;
  Prepared(database, sql)
      .each(
          [&](SQLite::Statement& row) {
            figures::JobRow& job = jobs.emplace_back();
            job.id = static_cast<std::uint64_t>(row.getColumn(0).getInt64());
            job.from = row.getColumn(1).getString();
            job.to = row.getColumn(2).getString();
            job.state = control::job_state_from(row.getColumn(3).getString())
                            .value_or(control::JobState::cancelled);
            job.created = from_ms(row.getColumn(4).getInt64());
            job.due = moment_or_none(row.getColumn(5));
            job.ended_at = moment_or_none(row.getColumn(6));
          },
          range.from, range.to, most + 1);
  if (jobs.size() > static_cast<std::size_t>(most))
    throw TooMuch("There are more than " + std::to_string(most) +
                  " jobs in that time; ask for fewer days.");
  return jobs;
}

std::vector<figures::CartRow> read_carts(const SQLite::Database& database,
                                         const figures::Range& range) {
  std::map<std::string, figures::CartRow> carts;
  Prepared(database,
           "SELECT cart, use, sum(ms) FROM cart_quarters WHERE quarter >= ? AND quarter < ? "
           "GROUP BY cart, use")
      .each(
          [&](SQLite::Statement& row) {
            const auto use = figures::use_from(row.getColumn(1).getString());
            if (!use) return;
            figures::CartRow& cart = carts[row.getColumn(0).getString()];
            cart.cart = row.getColumn(0).getString();
            cart.time[static_cast<std::size_t>(*use)] = Duration{row.getColumn(2).getInt64()};
          },
          range.from, range.to);
  std::vector<figures::CartRow> rows;
  for (auto& [name, cart] : carts) rows.push_back(std::move(cart));
  return rows;
}

}  // namespace

FigureReader::FigureReader(const std::filesystem::path& folder, FigureLimits limits)
    : file_(folder / "tagline.db"), limits_(limits) {}

figures::Rows FigureReader::read(const figures::Range& range) const {
  SteadyTime end = std::chrono::steady_clock::now() + limits_.time;
  try {
    SQLite::Database database(file_.string(), SQLite::OPEN_READONLY, patience_ms);
    sqlite3_progress_handler(
        database.getHandle(), steps_between_clocks,
        [](void* until) {
          return std::chrono::steady_clock::now() > *static_cast<SteadyTime*>(until) ? 1 : 0;
        },
        &end);
    SQLite::Transaction one_moment(database, SQLite::TransactionBehavior::DEFERRED);
    figures::Rows rows;
    rows.delivered =
        read_jobs(database,
                  "SELECT id, from_station, to_station, state, created, due, ended_at FROM jobs "
                  "WHERE state NOT IN ('queued', 'assigned', 'loaded') AND state = 'delivered' "
                  "AND changed >= ? AND changed < ? LIMIT ?",
                  range, limits_.jobs);
    rows.due = read_jobs(database,
                         "SELECT id, from_station, to_station, state, created, due, ended_at "
                         "FROM jobs WHERE due >= ? AND due < ? LIMIT ?",
                         range, limits_.jobs);
    rows.carts = read_carts(database, range);
    Prepared(database,
             "SELECT point, sum(waits), sum(ms) FROM merge_quarters "
             "WHERE quarter >= ? AND quarter < ? GROUP BY point")
        .each(
            [&](SQLite::Statement& row) {
              rows.merges.push_back({row.getColumn(0).getString(), row.getColumn(1).getInt64(),
                                     Duration{row.getColumn(2).getInt64()}});
            },
            range.from, range.to);
    Prepared(database,
             "SELECT point, sum(read), sum(missed) FROM tag_quarters "
             "WHERE quarter >= ? AND quarter < ? GROUP BY point")
        .each(
            [&](SQLite::Statement& row) {
              rows.tags.push_back({row.getColumn(0).getString(), row.getColumn(1).getInt64(),
                                   row.getColumn(2).getInt64()});
            },
            range.from, range.to);
    Prepared(database, "SELECT min(quarter) FROM cart_quarters").each([&](SQLite::Statement& row) {
      rows.kept_since = moment_or_none(row.getColumn(0));
    });
    return rows;
  } catch (const SQLite::Exception& error) {
    if (error.getErrorCode() == SQLITE_INTERRUPT)
      throw TooMuch("Reading that took too long; ask for fewer days.");
    throw explain(error, file_, "reading the figures");
  }
}

}  // namespace tagline::store
