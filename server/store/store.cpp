// The public face of the store: one folder, one database, one writer, and its transactions.
#include "server/store/store.hpp"

#include <SQLiteCpp/SQLiteCpp.h>

#include <algorithm>

#include "server/store/access_rows.hpp"
#include "server/store/database.hpp"
#include "server/store/errors.hpp"
#include "server/store/figure_rows.hpp"
#include "server/store/folder.hpp"
#include "server/store/loading.hpp"
#include "server/store/names.hpp"
#include "server/store/reconcile.hpp"
#include "server/store/retention.hpp"
#include "server/store/run_writing.hpp"
#include "server/store/writing.hpp"

namespace tagline::store {

struct Store::Impl {
  Impl(const std::filesystem::path& path, const floor::Ways& ways, std::vector<std::string> carts)
      : names(ways, std::move(carts)),
        folder(path),
        file(folder.database()),
        database(open_database(file)),
        writer(*database, names),
        journal(*database),
        access(*database),
        figures(*database, names),
        old(*database) {}

  /// Runs `work` in one transaction, in which nothing else can write in between.
  template <class Work>
  void commit(std::string_view doing, Work&& work) {
    try {
      SQLite::Transaction transaction(*database, SQLite::TransactionBehavior::IMMEDIATE);
      work();
      transaction.commit();
    } catch (const SQLite::Exception& error) {
      throw explain(error, file, doing);
    }
  }

  // In this order: the lock is taken before the database is touched and freed after it is closed.
  Names names;
  Folder folder;
  std::filesystem::path file;
  std::unique_ptr<SQLite::Database> database;
  Writer writer;
  RunWriter journal;
  AccessWriter access;
  FigureWriter figures;
  Retention old;
  Reconciled reconciled;
};

Store::Store(const std::filesystem::path& folder, const floor::Ways& ways,
             std::vector<std::string> cart_names) try
    : impl_(std::make_unique<Impl>(folder, ways, std::move(cart_names))) {
} catch (const SQLite::Exception& error) {
  throw explain(error, folder / "tagline.db", "opening the database");
}

Store::~Store() = default;

Found Store::load(Instant now) {
  Found found;
  impl_->commit("reading the database", [&] {
    const Loading loading{*impl_->database, impl_->names, impl_->file};
    // A clock that went back must not put a job's end before its beginning.
    const Instant moment = std::max(now, loading.latest());
    Reconciled latest = reconcile(*impl_->database, impl_->names, moment);
    impl_->reconciled.floor_changed |= latest.floor_changed;
    impl_->reconciled.from_backup |= latest.from_backup;
    std::move(latest.notes.begin(), latest.notes.end(),
              std::back_inserter(impl_->reconciled.notes));

    found.floor_changed = impl_->reconciled.floor_changed;
    found.from_backup = impl_->reconciled.from_backup;
    found.notes = impl_->reconciled.notes;
    found.restored.jobs = loading.jobs(moment - memory_of_ended_jobs);
    loading.service(found.restored);
    loading.carts(found.restored, found.notes);
    found.latest = loading.latest();
  });
  return found;
}

void Store::write(Instant now, std::span<const Batch> batches) {
  const bool anything = std::any_of(batches.begin(), batches.end(), [](const Batch& batch) {
    return !batch.records.empty() || !batch.trace.empty() || !batch.events.empty() ||
           batch.ending || !batch.access.empty() || !batch.sums.empty();
  });
  if (!anything) return;
  // What the journal knows of its last block must stay what is on disk if the commit fails.
  std::optional<OpenBlock> open = impl_->journal.open_block();
  impl_->commit("writing", [&] {
    impl_->writer.write(now, batches);
    if (open) impl_->journal.write(now, batches, *open);
    for (const Batch& batch : batches) {
      impl_->access.write(batch.access);
      impl_->figures.add(batch.sums);
      for (const TimedTrace& timed : batch.trace) impl_->figures.count(timed.at, timed.what);
    }
  });
  if (open) impl_->journal.set_open_block(std::move(*open));
}

void Store::begin_run(const RunStart& start) {
  std::optional<OpenBlock> open;
  impl_->commit("beginning a run", [&] { open = impl_->journal.begin(start); });
  impl_->journal.set_open_block(std::move(*open));
}

void Store::tidy(Instant now, Duration keep) {
  const Instant before = now - std::max(keep, memory_of_ended_jobs);
  impl_->commit("deleting what is too old", [&] { impl_->old.remove_some(before); });
}

access::Known Store::known() const {
  try {
    return load_known(*impl_->database);
  } catch (const SQLite::Exception& error) {
    throw explain(error, impl_->file, "reading the accounts");
  }
}

std::vector<access::AuditEntry> Store::audit(std::size_t limit,
                                             std::optional<std::uint64_t> before) const {
  try {
    return load_audit(*impl_->database, limit, before);
  } catch (const SQLite::Exception& error) {
    throw explain(error, impl_->file, "reading the audit log");
  }
}

std::optional<control::Job> Store::job(control::JobId id) {
  try {
    return Loading{*impl_->database, impl_->names, impl_->file}.job(id);
  } catch (const SQLite::Exception& error) {
    throw explain(error, impl_->file, "reading a job");
  }
}

}  // namespace tagline::store
