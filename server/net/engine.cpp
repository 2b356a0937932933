// One event after the other.
#include "server/net/engine.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <exception>

namespace tagline::net {
namespace {

using Steady = std::chrono::steady_clock;

/// A core second, but never more often than this in real time, however high the pace.
constexpr std::chrono::milliseconds shortest_tick{20};

}  // namespace

Engine::Engine(control::Core& core, std::size_t station_count, Journal& journal,
               const ServiceClock& clock, Outbox& outbox, Decide decide)
    : core_(core),
      view_(core, station_count),
      decide_(std::move(decide)),
      clock_(clock),
      outbox_(outbox),
      committer_(journal, outbox) {
  if (!decide_)
    decide_ = [&core](Instant now, const control::Event& event) { return core.handle(now, event); };
}

Engine::~Engine() { stop(); }

void Engine::start() {
  // Before the thread, so that whoever asks first is never shown an empty floor.
  now_ = clock_.now();
  Release first;
  first.at = now_;
  first.views = view_.everything();
  outbox_.release(std::move(first));
  thread_ = std::thread([this] { run(); });
}

void Engine::post(control::Event event, std::optional<Origin> origin) {
  std::unique_lock lock(mutex_);
  if (stopping_) return;
  queue_.push_back({std::move(event), origin});
  if (core_taken_) return;  // whoever has it looks into the queue before giving it back
  core_taken_ = true;
  handle_queued(lock);
  core_taken_ = false;
  core_free_.notify_one();
}

void Engine::find_job(control::JobId id, std::function<void(std::optional<control::Job>)> done) {
  committer_.look_up([id, done = std::move(done)](Journal& journal) {
    std::optional<control::Job> job;
    try {
      job = journal.job(id);
    } catch (const std::exception& error) {
      // A store that can't be read has failed for writing too, which closes the door by itself.
      spdlog::error("job {} can't be looked up: {}", id.value, error.what());
    }
    done(std::move(job));
  });
}

void Engine::keep(std::vector<access::Change> changes, std::function<void(bool)> done) {
  committer_.keep(std::move(changes), std::move(done));
}

void Engine::read_audit(std::size_t limit, std::optional<std::uint64_t> before,
                        std::function<void(Entries)> done) {
  committer_.look_up([limit, before, done = std::move(done)](Journal& journal) {
    Entries entries;
    try {
      entries = journal.audit(limit, before);
    } catch (const std::exception& error) {
      spdlog::error("the audit log can't be read: {}", error.what());
    }
    done(std::move(entries));
  });
}

void Engine::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    wake_.notify_one();
  }
  if (thread_.joinable()) thread_.join();
  committer_.stop();
}

void Engine::run() {
  const auto tick_every = std::max<Steady::duration>(
      shortest_tick, std::chrono::nanoseconds(std::chrono::seconds(1)) / clock_.pace());
  auto next_tick = Steady::now() + tick_every;
  auto next_part = Steady::now() + view_.pause();
  std::unique_lock lock(mutex_);
  for (;;) {
    handle_queued(lock);
    if (stopping_) break;
    core_taken_ = false;
    wake_.wait_until(lock, std::min(next_tick, next_part), [this] { return stopping_; });
    core_free_.wait(lock, [this] { return !core_taken_; });
    core_taken_ = true;
    lock.unlock();
    const auto real = Steady::now();
    if (real >= next_tick) {
      handle(control::Tick{}, std::nullopt);
      next_tick = real + tick_every;
    }
    if (real >= next_part) {
      show_part();
      next_part = real + view_.pause();
    }
    lock.lock();
  }
  lock.unlock();
  if (!failed_) end_run("stopped");
}

void Engine::handle_queued(std::unique_lock<std::mutex>& lock) {
  while (!queue_.empty()) {
    items_.clear();
    items_.swap(queue_);
    lock.unlock();
    for (Item& item : items_) handle(std::move(item.event), item.origin);
    lock.lock();
  }
}

void Engine::handle(control::Event event, const std::optional<Origin>& origin) {
  if (failed_) return;
  now_ = std::max(now_, clock_.now());
  try {
    control::Outcome outcome = decide_(now_, event);
    const replay::Digest digest = replay::digest_of(outcome);
    Release release;
    release.at = now_;
    release.origin = origin;
    release.views = view_.after(event, outcome);
    release.messages = std::move(outcome.messages);
    release.answers = std::move(outcome.answers);
    Batch batch;
    batch.records = std::move(outcome.records);
    batch.trace.reserve(outcome.trace.size());
    for (control::Trace& what : outcome.trace) batch.trace.push_back({now_, std::move(what)});
    batch.events.push_back({now_, std::move(event), digest});
    committer_.submit(now_, std::move(batch), std::move(release));
  } catch (const std::exception& error) {
    // The core promises to throw only when one of its rules is broken. Its state can't be trusted
    // any more, so nothing of this outcome goes out and no further event is handled. The event is
    // the one that somebody will want to see.
    failed_ = true;
    Batch batch;
    batch.events.push_back({now_, std::move(event), {replay::Digest::What::broke, 0}});
    committer_.note(std::move(batch));
    end_run(error.what());
    outbox_.core_failed(error.what());
  }
}

void Engine::show_part() {
  if (failed_) return;
  now_ = std::max(now_, clock_.now());
  Release release;
  release.at = now_;
  release.views = view_.next_part();
  committer_.submit(now_, {}, std::move(release));
}

void Engine::end_run(std::string how) {
  Batch batch;
  batch.ending = std::move(how);
  committer_.note(std::move(batch));
}

}  // namespace tagline::net
