// Puts the SQLite store behind the live service's journal.
#pragma once

#include <iterator>
#include <vector>

#include "server/net/journal.hpp"
#include "server/store/store.hpp"

namespace tagline::app {

class StoreJournal : public net::Journal {
 public:
  /// `store` must outlive it. What is older than `keep` is deleted (store::Store::tidy()).
  StoreJournal(store::Store& store, Duration keep) : store_(store), keep_(keep) {}

  void write(Instant now, std::span<const net::Batch> batches) override {
    std::vector<store::Batch> group;
    group.reserve(batches.size());
    for (const net::Batch& batch : batches) {
      store::Batch& one = group.emplace_back();
      one.records = batch.records;
      for (const net::TimedTrace& trace : batch.trace) one.trace.push_back({trace.at, trace.what});
      one.events = batch.events;
      one.ending = batch.ending;
      one.access = batch.access;
      one.sums = batch.sums;
    }
    store_.write(now, group);
  }

  std::optional<control::Job> job(control::JobId id) override { return store_.job(id); }

  std::vector<access::AuditEntry> audit(std::size_t limit,
                                        std::optional<std::uint64_t> before) override {
    return store_.audit(limit, before);
  }

  void tidy(Instant now) override { store_.tidy(now, keep_); }

 private:
  store::Store& store_;
  Duration keep_;
};

}  // namespace tagline::app
