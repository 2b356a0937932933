// The core's thread.
#include "server/net/engine.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <exception>
#include <set>

namespace tagline::net {
namespace {

using Steady = std::chrono::steady_clock;

/// A core second, but never more often than this in real time, however high the pace.
constexpr std::chrono::milliseconds shortest_tick{20};
/// Everything live is looked at this often, so that what creeps (a reason to wait) is seen too.
constexpr std::chrono::milliseconds sweep_every{500};

}  // namespace

Engine::Engine(control::Core& core, std::size_t station_count, Journal& journal,
               const ServiceClock& clock, Outbox& outbox, Decide decide)
    : core_(core),
      station_count_(station_count),
      decide_(std::move(decide)),
      clock_(clock),
      outbox_(outbox),
      committer_(journal, outbox) {
  if (!decide_)
    decide_ = [&core](Instant now, const control::Event& event) { return core.handle(now, event); };
}

Engine::~Engine() { stop(); }

void Engine::start() {
  thread_ = std::thread([this] { run(); });
}

void Engine::post(control::Event event, std::optional<Origin> origin) {
  const std::lock_guard lock(mutex_);
  if (stopping_) return;
  queue_.push_back({std::move(event), origin});
  wake_.notify_one();
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
  now_ = clock_.now();
  Release first;
  first.at = now_;
  first.views = view_of_everything(true);
  outbox_.release(std::move(first));

  const auto tick_every = std::max<Steady::duration>(
      shortest_tick, std::chrono::nanoseconds(std::chrono::seconds(1)) / clock_.pace());
  auto next_tick = Steady::now() + tick_every;
  auto next_sweep = Steady::now() + sweep_every;
  std::vector<Item> items;
  for (;;) {
    bool last = false;
    {
      std::unique_lock lock(mutex_);
      wake_.wait_until(lock, next_tick, [this] { return stopping_ || !queue_.empty(); });
      items.clear();
      items.swap(queue_);
      last = stopping_;
    }
    for (Item& item : items) handle(std::move(item.event), item.origin, false);
    if (last) {
      if (!failed_) end_run("stopped");
      return;
    }
    const auto real = Steady::now();
    if (real >= next_tick) {
      const bool sweep = real >= next_sweep;
      handle(control::Tick{}, std::nullopt, sweep);
      next_tick = real + tick_every;
      if (sweep) next_sweep = real + sweep_every;
    }
  }
}

void Engine::handle(control::Event event, const std::optional<Origin>& origin, bool sweep) {
  if (failed_) return;
  now_ = std::max(now_, clock_.now());
  try {
    control::Outcome outcome = decide_(now_, event);
    const replay::Digest digest = replay::digest_of(outcome);
    Release release;
    release.at = now_;
    release.origin = origin;
    release.views = sweep ? view_of_everything(false) : views_after(event, outcome);
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

void Engine::end_run(std::string how) {
  Batch batch;
  batch.ending = std::move(how);
  committer_.note(std::move(batch));
}

void Engine::view_loads(StationIx station, Views& into) const {
  if (const auto loads = core_.loads_at(station)) into.stations.push_back({station, *loads});
}

JobShown Engine::view(const control::Job& job, const AllExpected& expected) const {
  JobShown shown{job, core_.why(job.id)};
  if (const auto found = expected.find(job.id); found != expected.end()) {
    shown.expected = found->second;
  }
  return shown;
}

Views Engine::views_after(const control::Event& event, const control::Outcome& outcome) const {
  std::set<CartIx> carts;
  std::set<control::JobId> jobs;
  Views views;
  for (const control::Change& change : outcome.changes) {
    if (const auto* cart = std::get_if<control::CartChanged>(&change)) carts.insert(cart->cart);
    if (const auto* job = std::get_if<control::JobChanged>(&change)) jobs.insert(job->job);
    if (std::holds_alternative<control::AlarmsChanged>(change)) views.alarms = core_.alarms();
    if (std::holds_alternative<control::FleetChanged>(change))
      views.all_stopped = core_.all_stopped();
    if (std::holds_alternative<control::ServiceChanged>(change)) views.closed = view_closed();
  }
  // Whoever asked is shown the thing he asked about even when nothing changed.
  for (const control::Answer& answer : outcome.answers)
    if (const auto* taken = std::get_if<control::JobTaken>(&answer.what)) jobs.insert(taken->job);
  for (const control::Record& record : outcome.records)
    if (const auto* counted = std::get_if<control::StationRecord>(&record))
      view_loads(counted->station, views);
  std::visit(
      [&](const auto& what) {
        using What = std::decay_t<decltype(what)>;
        if constexpr (requires {
                        what.request;
                        what.cart;
                      }) {
          if (what.cart.value < core_.cart_count()) carts.insert(what.cart);
        }
        if constexpr (std::is_same_v<What, control::AskCancelJob>) jobs.insert(what.job);
        if constexpr (std::is_same_v<What, control::AskStopAll> ||
                      std::is_same_v<What, control::AskReleaseAll>) {
          views.all_stopped = core_.all_stopped();
        }
      },
      event);
  for (const CartIx cart : carts) views.carts.push_back(view(cart));
  if (jobs.empty()) return views;
  const AllExpected expected = core_.expected();
  for (const control::JobId id : jobs)
    if (const control::Job* job = core_.job(id)) views.jobs.push_back(view(*job, expected));
  return views;
}

Views Engine::view_of_everything(bool ended_jobs_too) const {
  Views views;
  for (std::uint32_t k = 0; k < core_.cart_count(); ++k) views.carts.push_back(view(CartIx{k}));
  const AllExpected expected = core_.expected();
  for (const control::Job* job : core_.jobs()) {
    if (!ended_jobs_too && control::is_final(job->state)) break;  // open ones come first
    views.jobs.push_back(view(*job, expected));
  }
  for (std::uint32_t k = 0; k < station_count_; ++k) view_loads(StationIx{k}, views);
  views.alarms = core_.alarms();
  views.all_stopped = core_.all_stopped();
  views.closed = view_closed();
  return views;
}

}  // namespace tagline::net
