// Group commit on a thread of its own.
#include "server/net/committer.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <exception>
#include <iterator>
#include <utility>

namespace tagline::net {
namespace {

bool sends(const Release& release) { return release.origin || !release.messages.empty(); }

/// Leaves what is for carts.
Release split_views(Release& release) {
  Release views;
  views.at = release.at;
  views.views = std::exchange(release.views, {});
  return views;
}

}  // namespace

Committer::Committer(Journal& journal, Outbox& outbox, std::chrono::milliseconds tidy_every)
    : journal_(journal),
      outbox_(outbox),
      tidy_every_(tidy_every),
      next_tidy_(std::chrono::steady_clock::now() + tidy_every),
      thread_([this] { run(); }) {}

Committer::~Committer() { stop(); }

void Committer::submit(Instant now, Batch batch, Release release) {
  {
    std::unique_lock lock(mutex_);
    if (failed_) return;
    now_ = now;
    const bool straight = batch.records.empty() && releases_.empty() && !busy_;
    if (straight) {
      if (put_off(std::move(batch))) wake_.notify_one();
    } else {
      const bool first = batch.records.empty() && sends(release) &&
                         may_go_before(kept_back_, release) &&
                         may_go_before(kept_back_still_, release);
      Release rest = first ? split_views(release) : std::exchange(release, {});
      precedence_.add(batch, rest, kept_back_);
      batches_.push_back(std::move(batch));
      releases_.push_back(std::move(rest));
      wake_.notify_one();
      if (!first) return;
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

void Committer::note(Batch batch) {
  const std::lock_guard lock(mutex_);
  if (failed_) return;
  batches_.push_back(std::move(batch));
  wake_.notify_one();
}

/// Under mutex_. True if it is due before all that was put off already.
bool Committer::put_off(Batch batch) {
  if (batch.trace.empty() && batch.events.empty()) return false;
  const bool quiet = batch.trace.empty() &&
                     std::all_of(batch.events.begin(), batch.events.end(), [](const auto& event) {
                       return event.digest.what == replay::Digest::What::nothing;
                     });
  const auto add = [](auto& to, auto& from) {
    std::move(from.begin(), from.end(), std::back_inserter(to));
  };
  add(late_.trace, batch.trace);
  add(late_.events, batch.events);
  const Moment due = std::chrono::steady_clock::now() +
                     (quiet ? std::chrono::milliseconds(quiet_delay) : trace_delay);
  return due_by(due);
}

/// Under mutex_. True if that is sooner than all that was put off already.
bool Committer::due_by(Moment moment) {
  const bool sooner = !late_due_ || moment < *late_due_;
  if (sooner) late_due_ = moment;
  return sooner;
}

void Committer::keep(std::vector<access::Change> changes, std::function<void(bool)> done) {
  std::unique_lock lock(mutex_);
  if (failed_ || (stopping_ && done)) {
    lock.unlock();
    if (done) done(false);
  } else if (done) {
    keeps_.push_back({std::move(changes), std::move(done)});
    wake_.notify_one();
  } else {
    std::move(changes.begin(), changes.end(), std::back_inserter(late_.access));
    if (due_by(std::chrono::steady_clock::now() + trace_delay)) wake_.notify_one();
  }
}

void Committer::keep_sums(figures::Sums sums) {
  const std::lock_guard lock(mutex_);
  if (failed_ || sums.empty()) return;
  const auto add = [](auto& to, auto& from) { to.insert(to.end(), from.begin(), from.end()); };
  add(late_.sums.carts, sums.carts);
  add(late_.sums.merges, sums.merges);
  if (due_by(std::chrono::steady_clock::now() + quiet_delay)) wake_.notify_one();
}

void Committer::look_up(std::function<void(Journal&)> look) {
  const std::lock_guard lock(mutex_);
  lookups_.push_back(std::move(look));
  wake_.notify_one();
}

void Committer::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    wake_.notify_one();
  }
  if (thread_.joinable()) thread_.join();
  // What was answered while it ended is in the audit log too.
  std::vector<Batch> rest;
  {
    const std::lock_guard lock(mutex_);
    if (failed_ || late_.access.empty()) return;
    rest.push_back(std::exchange(late_, {}));
  }
  write(now_, rest);
}

void Committer::run() {
  std::unique_lock lock(mutex_);
  for (;;) {
    const auto ready = [this] {
      return stopping_ || !batches_.empty() || !keeps_.empty() || !lookups_.empty();
    };
    const auto wake_at = [this] {
      return late_due_ ? std::min(*late_due_, next_tidy_) : next_tidy_;
    };
    const Moment until = wake_at();
    wake_.wait_until(lock, until, [&] { return ready() || wake_at() < until; });
    const Moment real = std::chrono::steady_clock::now();
    if (!ready() && real < wake_at()) continue;  // something came that is due sooner
    const bool last = stopping_ && batches_.empty() && keeps_.empty();
    std::vector<Batch> batches;
    batches.swap(batches_);
    std::vector<Release> releases;
    releases.swap(releases_);
    std::vector<Keep> keeps;
    keeps.swap(keeps_);
    std::vector<std::function<void(Journal&)>> lookups;
    lookups.swap(lookups_);
    const bool late_is_due = late_due_ && (last || real >= *late_due_);
    const bool urgent = std::any_of(batches.begin(), batches.end(), [](const Batch& batch) {
      return !batch.records.empty() || batch.ending;
    });
    // Who reads the audit log is to find there what was answered before.
    const bool looked_at = !lookups.empty() && !late_.access.empty();
    if (urgent || late_is_due || looked_at || !keeps.empty()) {
      if (late_due_) batches.insert(batches.begin(), std::exchange(late_, {}));
      late_due_.reset();
      for (Keep& keep : keeps) batches.emplace_back().access = std::move(keep.changes);
    } else {
      for (Batch& batch : batches) put_off(std::move(batch));
      batches.clear();
    }
    const Instant now = now_;
    // Nobody waits for trace alone: what comes meanwhile overtakes no release.
    busy_ = urgent || !releases.empty();
    kept_back_still_ = std::exchange(kept_back_, {});
    lock.unlock();
    const bool written = batches.empty() || write(now, batches);
    if (written)
      for (Release& release : releases) let_out(std::move(release));
    for (const Keep& keep : keeps) keep.done(written);
    for (const auto& look : lookups) look(journal_);
    lock.lock();
    busy_ = false;
    kept_back_still_ = {};
    if (last && batches_.empty() && keeps_.empty() && lookups_.empty()) return;
    if (!stopping_ && real >= next_tidy_) {
      next_tidy_ = real + tidy_every_;
      // Not busy: what needs no writing still goes straight out meanwhile.
      lock.unlock();
      tidy(now);
      lock.lock();
    }
  }
}

void Committer::tidy(Instant now) {
  try {
    journal_.tidy(now);
  } catch (const std::exception& error) {
    // Nothing depends on it; if the disk is at its end, the next write will say so.
    spdlog::warn("what is too old could not be deleted: {}", error.what());
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
      late_ = {};
      late_due_.reset();
    }
    outbox_.store_failed(error.what());
    return false;
  }
}

}  // namespace tagline::net
