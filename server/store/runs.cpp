// See runs.hpp.
#include "server/store/runs.hpp"

#include <limits>

#include "server/store/database.hpp"
#include "server/store/errors.hpp"
#include "server/store/prepared.hpp"
#include "server/store/schema.hpp"

namespace tagline::store {
namespace {

constexpr int first_schema_with_runs = 4;
constexpr int blocks_at_a_time = 200;

std::filesystem::path database_in(const std::filesystem::path& folder) {
  std::filesystem::path file = folder / "tagline.db";
  if (!std::filesystem::exists(file)) {
    throw StoreError("There is no database in " + folder.string() +
                     ". Name the data folder of the service with --data.");
  }
  return file;
}

}  // namespace

struct Runs::Impl {
  explicit Impl(const std::filesystem::path& folder)
      : file(database_in(folder)), database(file.string(), SQLite::OPEN_READONLY, patience_ms) {}

  template <class Work>
  auto reading(Work&& work) const {
    try {
      return work();
    } catch (const SQLite::Exception& error) {
      throw explain(error, file, "reading the journal");
    }
  }

  std::filesystem::path file;
  SQLite::Database database;
};

Runs::Runs(const std::filesystem::path& folder) try : impl_(std::make_unique<Impl>(folder)) {
  check_version(impl_->database, migrations(), impl_->file);
  if (impl_->database.execAndGet("PRAGMA user_version").getInt() < first_schema_with_runs) {
    throw StoreError(impl_->file.string() +
                     " is from before there was a journal of events. Start the service of this "
                     "version on it; from then on there is one.");
  }
} catch (const SQLite::Exception& error) {
  throw explain(error, folder / "tagline.db", "opening the database");
}

Runs::~Runs() = default;

std::vector<RunInfo> Runs::list() const {
  return impl_->reading([&] {
    std::vector<RunInfo> all;
    Prepared(impl_->database,
             "SELECT runs.run, began, coalesce(last.ends, began), "
             "coalesce(last.first + last.count - 1, 0), run_floors.name, program, ending "
             "FROM runs JOIN run_floors ON run_floors.id = runs.floor "
             "LEFT JOIN run_events AS last ON last.block = (SELECT block FROM run_events "
             "WHERE block >= runs.first_block AND block < coalesce((SELECT first_block FROM runs "
             "AS later WHERE later.run > runs.run ORDER BY later.run LIMIT 1), ?) "
             "ORDER BY block DESC LIMIT 1) ORDER BY runs.run")
        .each(
            [&](SQLite::Statement& row) {
              RunInfo& info = all.emplace_back();
              info.run = row.getColumn(0).getInt64();
              info.began = from_ms(row.getColumn(1).getInt64());
              info.until = from_ms(row.getColumn(2).getInt64());
              info.events = static_cast<std::uint64_t>(row.getColumn(3).getInt64());
              info.floor_name = row.getColumn(4).getString();
              info.program = row.getColumn(5).getString();
              if (!row.getColumn(6).isNull()) info.ending = row.getColumn(6).getString();
            },
            std::numeric_limits<std::int64_t>::max());
    return all;
  });
}

std::optional<Runs::Source> Runs::source(std::int64_t run) const {
  return impl_->reading([&] {
    std::optional<Source> found;
    Prepared(impl_->database,
             "SELECT document, start, first_block, coalesce((SELECT first_block FROM runs AS later "
             "WHERE later.run > runs.run ORDER BY later.run LIMIT 1), ?2) "
             "FROM runs JOIN run_floors ON run_floors.id = runs.floor WHERE run = ?1")
        .each(
            [&](SQLite::Statement& row) {
              found = {row.getColumn(0).getString(), row.getColumn(1).getString(),
                       row.getColumn(2).getInt64(), row.getColumn(3).getInt64()};
            },
            run, std::numeric_limits<std::int64_t>::max());
    return found;
  });
}

std::vector<KeptBlock> Runs::blocks(const Source& source, std::int64_t from) const {
  return impl_->reading([&] {
    std::vector<KeptBlock> all;
    Prepared(impl_->database,
             "SELECT block, first, begins, events FROM run_events WHERE block >= ? AND block < ? "
             "ORDER BY block LIMIT ?")
        .each(
            [&](SQLite::Statement& row) {
              all.push_back({row.getColumn(0).getInt64(),
                             static_cast<std::uint64_t>(row.getColumn(1).getInt64()),
                             from_ms(row.getColumn(2).getInt64()), row.getColumn(3).getString()});
            },
            std::max(from, source.first_block), source.end_block, blocks_at_a_time);
    return all;
  });
}

}  // namespace tagline::store
