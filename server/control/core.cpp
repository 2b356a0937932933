// The core's outside: start from what the store kept, take events, show views. See core.hpp.
#include "server/control/core.hpp"

#include <algorithm>
#include <stdexcept>

#include "server/control/state.hpp"

namespace tagline::control {

Core::State::State(const floor::Track& track_in, std::vector<std::string> names, Policy policy_in,
                   const Restored& restored, Instant now_in)
    : track(track_in),
      ways(track_in.ways()),
      floor(track_in.floor()),
      policy(policy_in),
      guard(track_in, names.size()),
      limit(traffic::live_limit(track_in)),
      travel(track_in.ways()),
      carts(names.size()),
      last_job(restored.last_job),
      all_stopped(restored.fleet.all_stopped),
      ticked_at(now_in),
      started(now_in),
      now(now_in) {
  prices = find_prices();
  grant_due.assign(carts.size(), false);
  station_loads.assign(floor.stations.size(), 0);
  for (const StationRecord& record : restored.stations) {
    station_loads[record.station.value] = record.loads;
  }
  for (const Downtime& downtime : restored.downtimes) downtimes.emplace(downtime.what, downtime);
  stopped_zones.insert(restored.stopped_zones.begin(), restored.stopped_zones.end());
  refresh_closed();
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    carts[i].name = std::move(names[i]);
    carts[i].passed_at = now;
    recorded.push_back({{i}, false, false, "", {}});
  }
  for (const Job& job : restored.jobs) {
    jobs.emplace(job.id, job);
    last_job = std::max(last_job, job.id.value);
    if (is_final(job.state)) {
      ended_jobs.push_back(job.id);
    } else {
      open_jobs.insert(job.id);
    }
    if (!job.key.empty()) job_by_key[job.key] = job.id;
  }
  for (const CartRecord& record : restored.carts) {
    CartState& c = at(record.cart);
    c.loaded = record.loaded;
    c.doubt = record.doubt;
    c.maybe_at = record.maybe_at;
    if (record.needs_release) {
      c.release_reason =
          "It was stopped before the service restarted. See that people are clear, "
          "then release it.";
    }
    recorded[record.cart.value] = record;
  }
  for (const PathRecord& record : restored.paths) {
    if (record.path.empty()) continue;
    CartState& c = at(record.cart);
    c.path = record.path;
    c.trip = record.trip;
    if (record.job && jobs.contains(*record.job)) c.job = record.job;
    c.last_step = c.path.back().step;
    c.unconfirmed = c.doubt.empty();
    // What was done at a stop is known from the job, which was recorded with it.
    const auto is_stop = [](const PathStep& step) {
      return step.act == Act::load || step.act == Act::unload;
    };
    const std::size_t left = c.job ? jobs.at(*c.job).stop_count() - jobs.at(*c.job).stops_done : 0;
    auto known = static_cast<std::size_t>(std::ranges::count_if(c.path, is_stop));
    for (PathStep& step : c.path) {
      if (known <= left) break;
      if (!is_stop(step)) continue;
      step.act = Act::go;
      --known;
    }
    // I8: until it greets it may be anywhere from its last recorded point to its trip's end.
    std::vector<PieceIx> pieces;
    for (const PathStep& step : c.path) {
      const auto cover = track.cover(step.pose);
      pieces.insert(pieces.end(), cover.begin(), cover.end());
    }
    for (const PointIx point : c.maybe_at) {
      const auto more = around(record.cart, point);
      pieces.insert(pieces.end(), more.begin(), more.end());
    }
    guard.lost(record.cart, pieces);
  }
  moving_on = limit.moving_on(static_cast<std::size_t>(
      std::ranges::count_if(carts, [](const CartState& c) { return c.on_floor(); })));
  std::ranges::sort(ended_jobs, {}, [&](JobId id) { return jobs.at(id).ended_at; });
  // A job whose cart has no path any more (the floor changed) can't go on by itself.
  for (const JobId id : std::vector(open_jobs.begin(), open_jobs.end())) {
    const Job& job = jobs.at(id);
    if (job.state == JobState::queued) continue;
    if (job.cart && at(*job.cart).job == id) continue;
    set_job(id, job.state == JobState::loaded ? JobState::stranded : JobState::queued,
            "its cart's way was lost with a restart");
  }
  settle();
}

Core::Core(const floor::Track& track, std::vector<std::string> cart_names, Policy policy,
           const Restored& restored, Instant now)
    : state_(std::make_unique<State>(track, std::move(cart_names), policy, restored, now)) {}

Core::~Core() = default;

Outcome Core::handle(Instant now, const Event& event) {
  State& s = *state_;
  if (now < s.now) throw std::logic_error("core: time went back");
  s.now = now;
  std::visit([&](const auto& what) { s.on(what); }, event);
  s.settle();
  s.guard.assert_recent();
  s.assert_paths();
  Outcome outcome = std::move(s.out);
  s.out = {};
  return outcome;
}

void Core::assert_nobody_forgotten() const { state_->assert_nobody_forgotten(); }

std::size_t Core::cart_count() const { return state_->carts.size(); }

const std::string& Core::cart_name(CartIx cart) const { return state_->at(cart).name; }

std::optional<CartIx> Core::find_cart(std::string_view name) const {
  for (std::uint32_t i = 0; i < state_->carts.size(); ++i) {
    if (state_->carts[i].name == name) return CartIx{i};
  }
  return {};
}

CartView Core::cart(CartIx cart) const {
  const CartState& c = state_->at(cart);
  CartView view;
  view.cart = cart;
  view.mode = state_->mode(cart);
  view.connected = c.connected;
  view.loaded = c.loaded;
  view.battery = c.battery;
  view.fault = c.fault;
  if (!c.doubt.empty()) {
    view.trouble = c.doubt;
  } else if (c.unconfirmed) {
    view.trouble = "The service restarted and has not heard from it yet.";
  } else if (c.stopped_at_cart) {
    view.trouble =
        "Stopped by its " + std::string(name_of(*c.stopped_at_cart)) + ". Release it at the cart.";
  } else if (!c.stopped_with.empty()) {
    view.trouble = "Stopped with " + state_->zone_names(c.stopped_with) + ". Release that.";
  } else {
    view.trouble = c.release_reason;
  }
  view.job = c.job;
  view.trip = c.trip;
  view.path = c.path;
  view.authority = state_->authority(cart);
  view.passed_at = c.passed_at;
  view.holds = state_->guard.holdings(cart);
  if (view.mode == CartMode::waiting) view.waits_for = c.waits;
  return view;
}

const Job* Core::job(JobId id) const {
  const auto found = state_->jobs.find(id);
  return found == state_->jobs.end() ? nullptr : &found->second;
}

std::vector<const Job*> Core::jobs() const {
  std::vector<const Job*> all;
  for (const JobId id : state_->open_jobs) all.push_back(&state_->jobs.at(id));
  for (auto it = state_->jobs.rbegin(); it != state_->jobs.rend(); ++it) {
    if (is_final(it->second.state)) all.push_back(&it->second);
  }
  return all;
}

std::optional<int> Core::loads_at(StationIx station) const {
  if (!state_->floor[station].capacity) return {};
  return state_->station_loads[station.value];
}

const traffic::LiveLimit& Core::live_limit() const { return state_->limit; }

std::vector<Alarm> Core::alarms() const { return state_->alarms; }

std::vector<ZoneIx> Core::stopped_zones() const {
  return {state_->stopped_zones.begin(), state_->stopped_zones.end()};
}

bool Core::all_stopped() const { return state_->all_stopped; }

}  // namespace tagline::control
