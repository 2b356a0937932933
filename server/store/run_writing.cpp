// See run_writing.hpp.
#include "server/store/run_writing.hpp"

namespace tagline::store {
namespace {

/// Three to a page of 4,096 bytes.
constexpr std::size_t full_block = 1'200;

}  // namespace

RunWriter::RunWriter(SQLite::Database& database)
    : database_(&database),
      put_block_(database,
                 "INSERT INTO run_events (block, run, first, count, begins, ends, events) "
                 "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (block) DO UPDATE SET "
                 "count = ?4, ends = ?6, events = ?7"),
      end_run_(database, "UPDATE runs SET ended = ?2, ending = ?3 WHERE run = ?1") {}

OpenBlock RunWriter::begin(const RunStart& start) {
  std::optional<std::int64_t> floor;
  Prepared(*database_, "SELECT id FROM run_floors WHERE document = ?")
      .each([&](SQLite::Statement& row) { floor = row.getColumn(0).getInt64(); },
            start.floor_document);
  if (!floor) {
    Prepared(*database_, "INSERT INTO run_floors (name, document) VALUES (?, ?)")
        .run(start.floor_name, start.floor_document);
    floor = database_->getLastInsertRowid();
  }
  OpenBlock open;
  // The first block of the latest run counts too: it may have none, and all before it be deleted.
  open.block = 1 + database_
                       ->execAndGet(
                           "SELECT max(coalesce((SELECT max(block) FROM run_events), 0), "
                           "coalesce((SELECT max(first_block) - 1 FROM runs), 0))")
                       .getInt64();
  Prepared(*database_,
           "INSERT INTO runs (began, program, floor, first_block, start) VALUES (?, ?, ?, ?, ?)")
      .run(start.core.now, start.program, *floor, open.block,
           Blob{replay::start_bytes(start.core)});
  open.run = database_->getLastInsertRowid();
  return open;
}

void RunWriter::write(Instant now, std::span<const Batch> batches, OpenBlock& open) {
  bool changed = false;
  for (const Batch& batch : batches) {
    for (const replay::TimedEvent& event : batch.events) {
      if (open.events.size() >= full_block) {
        if (changed) put(open);
        open.first += open.events.count();
        ++open.block;
        open.events = {};
      }
      open.events.add(event);
      changed = true;
    }
    if (batch.ending) end_run_.run(open.run, now, *batch.ending);
  }
  if (changed) put(open);
}

void RunWriter::put(const OpenBlock& open) {
  put_block_.run(open.block, open.run, open.first, static_cast<std::uint64_t>(open.events.count()),
                 open.events.begins(), open.events.ends(), Blob{open.events.bytes()});
}

}  // namespace tagline::store
