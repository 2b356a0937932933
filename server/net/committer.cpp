// Group commit on a thread of its own.
#include "server/net/committer.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <exception>
#include <iterator>

namespace tagline::net {

Committer::Committer(Journal& journal, Outbox& outbox)
    : journal_(journal), outbox_(outbox), thread_([this] { run(); }) {}

Committer::~Committer() { stop(); }

void Committer::submit(Instant now, Batch batch, Release release) {
  {
    std::unique_lock lock(mutex_);
    if (failed_) return;
    now_ = now;
    const bool straight = batch.records.empty() && releases_.empty() && !busy_;
    if (straight) {
      if (!batch.trace.empty()) {
        if (late_trace_.empty()) {
          late_since_ = std::chrono::steady_clock::now();
          wake_.notify_one();
        }
        std::move(batch.trace.begin(), batch.trace.end(), std::back_inserter(late_trace_));
      }
    } else {
      batches_.push_back(std::move(batch));
      releases_.push_back(std::move(release));
      wake_.notify_one();
      return;
    }
  }
  let_out(std::move(release));
}

void Committer::let_out(Release release) {
  const std::lock_guard out(letting_out_);
  {
    // Trace may have failed to be written meanwhile.
    const std::lock_guard lock(mutex_);
    if (failed_) return;
  }
  outbox_.release(std::move(release));
}

void Committer::find_job(control::JobId id, std::function<void(std::optional<control::Job>)> done) {
  const std::lock_guard lock(mutex_);
  lookups_.push_back({id, std::move(done)});
  wake_.notify_one();
}

void Committer::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    wake_.notify_one();
  }
  if (thread_.joinable()) thread_.join();
}

void Committer::run() {
  std::unique_lock lock(mutex_);
  for (;;) {
    const auto ready = [this] { return stopping_ || !releases_.empty() || !lookups_.empty(); };
    if (late_trace_.empty()) {
      wake_.wait(lock, [&] { return ready() || !late_trace_.empty(); });
      if (!ready()) continue;  // only trace has come: now wait for its time
    } else {
      wake_.wait_until(lock, late_since_ + trace_delay, ready);
    }
    const bool last = stopping_ && releases_.empty();
    std::vector<Batch> batches;
    batches.swap(batches_);
    std::vector<Release> releases;
    releases.swap(releases_);
    std::vector<Lookup> lookups;
    lookups.swap(lookups_);
    const bool trace_is_due = !late_trace_.empty() && (last || std::chrono::steady_clock::now() >=
                                                                   late_since_ + trace_delay);
    const bool has_records = std::any_of(batches.begin(), batches.end(),
                                         [](const Batch& batch) { return !batch.records.empty(); });
    if (has_records || trace_is_due) {
      if (!late_trace_.empty()) {
        Batch late;
        late.trace.swap(late_trace_);
        batches.insert(batches.begin(), std::move(late));
      }
    } else {
      for (Batch& batch : batches) {
        if (late_trace_.empty()) late_since_ = std::chrono::steady_clock::now();
        std::move(batch.trace.begin(), batch.trace.end(), std::back_inserter(late_trace_));
      }
      batches.clear();
    }
    const Instant now = now_;
    // Nobody waits for trace alone: what comes meanwhile overtakes no release.
    busy_ = !releases.empty();
    lock.unlock();
    if (batches.empty() || write(now, batches)) {
      for (Release& release : releases) let_out(std::move(release));
    }
    answer(lookups);
    lock.lock();
    busy_ = false;
    if (last && releases_.empty() && lookups_.empty()) return;
  }
}

bool Committer::write(Instant now, std::vector<Batch>& batches) {
  {
    const std::lock_guard lock(mutex_);
    if (failed_) return false;
  }
  try {
    journal_.write(now, batches);
    return true;
  } catch (const std::exception& error) {
    const std::lock_guard out(letting_out_);
    {
      const std::lock_guard lock(mutex_);
      failed_ = true;
      batches_.clear();
      releases_.clear();
      late_trace_.clear();
    }
    outbox_.store_failed(error.what());
    return false;
  }
}

void Committer::answer(std::vector<Lookup>& lookups) {
  for (Lookup& lookup : lookups) {
    std::optional<control::Job> job;
    try {
      job = journal_.job(lookup.id);
    } catch (const std::exception& error) {
      // A store that can't be read has failed for writing too, which closes the door by itself.
      spdlog::error("job {} can't be looked up: {}", lookup.id.value, error.what());
    }
    lookup.done(std::move(job));
  }
}

}  // namespace tagline::net
