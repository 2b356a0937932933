// Parts of the core that several events share. See state.hpp.
#include <algorithm>
#include <iterator>
#include <utility>

#include "server/control/state.hpp"
#include "server/traffic/turns_by_trial.hpp"

namespace tagline::control {
namespace {

/// Each such time that a cart has waited makes its time count for as much more as it did at first.
constexpr Duration weight_grows_every = std::chrono::seconds{30};

}  // namespace

std::size_t Core::State::authority(CartIx cart) const {
  const auto* itinerary = guard.itinerary(cart);
  return itinerary != nullptr ? itinerary->authority : 0;
}

bool Core::State::may_move(CartIx cart) const {
  const CartState& c = at(cart);
  return c.known() && c.connected && !all_stopped && !c.must_be_released() &&
         (c.fault == Fault::none || c.fault == Fault::blocked || c.fault == Fault::overrun);
}

bool Core::State::free_for_errand(CartIx cart) const {
  const CartState& c = at(cart);
  return may_move(cart) && !c.job && !c.loaded && c.fault != Fault::blocked && !is_down(cart);
}

bool Core::State::has_tag(PointIx point, const std::string& tag) const {
  return std::ranges::find(floor[point].tags, tag) != floor[point].tags.end();
}

bool Core::State::is_charger(PoseIx pose) const { return floor.has_charger(ways[pose].at); }

std::string Core::State::where(CartIx cart) const {
  const CartState& c = at(cart);
  return c.on_floor() ? floor[ways[c.path.front().pose].at].id : std::string("off the floor");
}

CartMode Core::State::mode(CartIx cart) const {
  const CartState& c = at(cart);
  if (!c.doubt.empty() || c.unconfirmed) return CartMode::in_doubt;
  if (!c.on_floor()) return CartMode::off_floor;
  if (c.must_be_released() || all_stopped) return CartMode::needs_release;
  if (authority(cart) > 0) return CartMode::driving;
  const Act act = c.path.front().act;
  if (act == Act::load || act == Act::unload) return CartMode::handling;
  if (c.path.size() > 1) return CartMode::waiting;
  return c.needs_charge && is_charger(c.path.front().pose) ? CartMode::charging : CartMode::idle;
}

std::vector<bool> Core::State::open_poses(CartIx cart, bool out_of_service_too) const {
  std::vector<bool> closed;
  if (!out_of_service_too) closed = closed_pieces;
  closed.resize(track.piece_count());
  const auto close = [&](std::span<const PieceIx> pieces) {
    for (const PieceIx piece : pieces) {
      closed[piece.value] = true;
      for (const PieceIx rival : track.conflicts(piece)) closed[rival.value] = true;
    }
  };
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (i == cart.value) continue;
    if (const auto* itinerary = guard.itinerary({i})) {
      // Where carts move on, nobody comes to rest for ever.
      if (!moving_on) close(track.cover(itinerary->steps.back()));
    } else {
      close(guard.holdings({i}));
    }
  }
  std::vector<bool> open(ways.pose_count());
  for (std::uint32_t i = 0; i < open.size(); ++i) {
    open[i] =
        std::ranges::none_of(track.cover({i}), [&](PieceIx piece) { return closed[piece.value]; });
  }
  return open;
}

std::vector<PoseIx> Core::State::free_rests(CartIx cart) const {
  std::vector<PoseIx> found;
  const bool doubt = std::ranges::any_of(carts, [&](const CartState& c) {
    const auto i = static_cast<std::uint32_t>(&c - carts.data());
    return CartIx{i} != cart && guard.itinerary({i}) == nullptr && guard.holds_any({i});
  });
  if (doubt || !closed_pieces.empty()) {
    const std::vector<bool> open = open_poses(cart);
    std::ranges::copy_if(limit.rests, std::back_inserter(found),
                         [&](PoseIx rest) { return static_cast<bool>(open[rest.value]); });
    return found;
  }
  // The same, where only ends of ways count, without looking at every pose.
  std::vector<bool> taken(ways.pose_count(), false);
  for (std::uint32_t i = 0; i < carts.size() && !moving_on; ++i) {
    const auto* itinerary = guard.itinerary({i});
    if (CartIx{i} != cart && itinerary != nullptr) taken[itinerary->steps.back().value] = true;
  }
  std::ranges::copy_if(limit.rests, std::back_inserter(found), [&](PoseIx rest) {
    return std::ranges::none_of(track.clashes(rest), [&](PoseIx p) { return taken[p.value]; });
  });
  return found;
}

std::vector<PathStep> Core::State::to_path(const std::vector<PoseIx>& steps,
                                           const std::vector<std::size_t>& stop_steps,
                                           const Job* job, Step first) const {
  std::vector<PathStep> path;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    path.push_back({first + i, steps[i], i + 1 == steps.size() ? Act::rest : Act::go});
  }
  for (std::size_t s = 0; job != nullptr && s < stop_steps.size(); ++s) {
    const Handling what = job->stop(job->stops_done + s).what;
    path[stop_steps[s]].act = what == Handling::load ? Act::load : Act::unload;
  }
  return path;
}

traffic::Outlook Core::State::outlook(CartIx cart) const {
  const CartState& c = at(cart);
  traffic::Outlook look;
  look.ready = now;
  if (!c.known()) return look;
  const std::size_t until = authority(cart);
  const auto is_stop = [](const PathStep& step) {
    return step.act == Act::load || step.act == Act::unload;
  };
  if (c.job) {
    const Job& job = jobs.at(*c.job);
    std::size_t stop = job.stops_done;
    look.dwell.assign(c.path.size(), Duration{0});
    for (std::size_t i = 0; i < c.path.size() && stop < job.stop_count(); ++i) {
      if (!is_stop(c.path[i])) continue;
      const floor::Station& station = floor[job.stop(stop++).station];
      look.dwell[i] = c.path[i].act == Act::load ? station.load : station.unload;
    }
  }
  Instant ready = c.passed_at;
  for (std::size_t i = 1; i <= until; ++i) {
    ready += ways.find_move(c.path[i - 1].pose, c.path[i].pose)->time;
  }
  ready += look.dwell_at(until);
  if (c.waits) look.weight += (now - c.waits->since) / weight_grows_every;
  look.standing = until == 0 || is_stop(c.path[until]);
  look.ready = std::max(now, ready);
  // How long these take nobody knows; others had better not count on it.
  if (c.fault == Fault::blocked) {
    look.ready += std::chrono::seconds{30};
  } else if (!may_move(cart) || (c.waits && c.waits->closed)) {
    look.ready += std::chrono::minutes{5};
  }
  return look;
}

std::vector<traffic::Outlook> Core::State::outlooks() const {
  std::vector<traffic::Outlook> all;
  all.reserve(carts.size());
  for (std::uint32_t i = 0; i < carts.size(); ++i) all.push_back(outlook({i}));
  return all;
}

std::vector<traffic::Stop> Core::State::stops_left(const Job& job) const {
  std::vector<traffic::Stop> stops;
  for (std::size_t i = job.stops_done; i < job.stop_count(); ++i) {
    const JobStop stop = job.stop(i);
    const floor::Station& station = floor[stop.station];
    stops.push_back({station.point, stop.what == Handling::load ? station.load : station.unload});
  }
  return stops;
}

bool Core::State::carries_on_with_job(CartIx cart) const {
  const CartState& c = at(cart);
  if (!c.job || jobs.at(*c.job).state != JobState::loaded) return false;
  const Job& job = jobs.at(*c.job);
  return c.loaded == (job.stop(job.stops_done - 1).what == Handling::load);
}

void Core::State::refresh_travel() {
  std::vector<bool> closed = closed_pieces;  // per piece; empty while nothing is
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (guard.itinerary({i}) != nullptr) continue;
    const auto held = guard.holdings({i});
    if (held.empty()) continue;
    closed.resize(track.piece_count());
    for (const PieceIx piece : held) {
      closed[piece.value] = true;
      for (const PieceIx rival : track.conflicts(piece)) closed[rival.value] = true;
    }
  }
  std::vector<bool> open(ways.pose_count(), true);
  for (std::uint32_t i = 0; !closed.empty() && i < open.size(); ++i) {
    open[i] =
        std::ranges::none_of(track.cover({i}), [&](PieceIx piece) { return closed[piece.value]; });
  }
  travel.set_open(open);
}

void Core::State::passed(CartIx cart, std::size_t count) {
  CartState& c = at(cart);
  guard.passed(cart, count);
  c.path.erase(c.path.begin(), c.path.begin() + static_cast<std::ptrdiff_t>(count));
  c.passed_at = now;
  if (c.fault != Fault::none || c.must_be_released()) alarms_due = true;  // they say where
  touch(cart);
  wake(cart);
}

bool Core::State::confirm(CartIx cart, std::size_t last, std::size_t until) {
  CartState& c = at(cart);
  traffic::Itinerary itinerary{{}, until - last};
  for (std::size_t i = last; i < c.path.size(); ++i) itinerary.steps.push_back(c.path[i].pose);
  const auto order = traffic::find_order_thoroughly(guard, cart, itinerary);
  if (!order || guard.place(cart, itinerary, *order)) return false;
  c.path.erase(c.path.begin(), c.path.begin() + static_cast<std::ptrdiff_t>(last));
  c.passed_at = now;
  c.doubt.clear();
  c.maybe_at.clear();
  c.overran.reset();
  c.unconfirmed = false;
  c.claim.reset();
  stop_with_zones(cart);
  alarms_due = true;
  match_due = true;
  touch(cart);
  all_due();
  return true;
}

std::vector<PieceIx> Core::State::around(CartIx cart, PointIx point) const {
  std::vector<PieceIx> pieces;
  const auto add = [&](PoseIx pose) {
    const auto cover = track.cover(pose);
    pieces.insert(pieces.end(), cover.begin(), cover.end());
  };
  for (const PoseIx pose : ways.poses_at(point)) {
    add(pose);
    for (const floor::Move& move : ways.moves_from(pose)) add(move.to);
  }
  // A wrong turn leaves tags between the path and this point unread only if they were missed; a
  // cart that was carried hasn't been in between. So a short way there counts, a long one doesn't.
  constexpr std::size_t near_by = 4;
  if (const CartState& c = at(cart); c.on_floor()) {
    const auto route = floor::shortest_route(
        ways, c.path.front().pose, [&](PoseIx pose) { return ways[pose].at == point; },
        [](PoseIx) { return true; });
    if (route && route->steps.size() <= near_by) std::ranges::for_each(route->steps, add);
  }
  return pieces;
}

void Core::State::lose(CartIx cart, const std::string& why, const std::vector<PointIx>& maybe_at) {
  CartState& c = at(cart);
  c.doubt = why;
  c.overran.reset();
  c.unconfirmed = false;
  c.claim.reset();
  c.waits.reset();
  std::vector<PieceIx> pieces;
  for (const PointIx point : maybe_at) {
    const auto more = around(cart, point);
    pieces.insert(pieces.end(), more.begin(), more.end());
    if (std::ranges::find(c.maybe_at, point) == c.maybe_at.end()) c.maybe_at.push_back(point);
  }
  guard.lost(cart, pieces);
  waiting.erase(cart);
  out.messages.emplace_back(TellStop{cart, "Position in doubt: " + why});
  alarms_due = true;
  match_due = true;
  touch(cart);
  all_due();
}

void Core::State::give_up_job(CartIx cart, const std::string& why) {
  CartState& c = at(cart);
  if (!c.job) return;
  const JobId id = *c.job;
  c.job.reset();
  set_job(id, jobs.at(id).state == JobState::loaded ? JobState::stranded : JobState::queued, why);
}

void Core::State::finish_handling(CartIx cart, std::size_t index) {
  CartState& c = at(cart);
  PathStep& here = c.path[index];
  const bool loading = here.act == Act::load;
  here.act = index + 1 == c.path.size() ? Act::rest : Act::go;
  round_due = true;
  c.loaded = loading;
  if (c.job) {
    const JobId id = *c.job;
    Job& job = jobs.at(id);
    count_loads(job.stop(job.stops_done).station, loading ? -1 : 1);
    ++job.stops_done;
    const bool all_done = job.stops_done == job.stop_count();
    if (all_done) c.job.reset();
    set_job(id, all_done ? JobState::delivered : JobState::loaded);
  }
  alarms_due = true;
  record_path(cart);
  touch(cart);
}

void Core::State::count_loads(StationIx station, int change) {
  if (!floor[station].capacity || change == 0) return;
  int& loads = station_loads[station.value];
  const int before = std::exchange(loads, std::max(0, loads + change));
  if (loads == before) return;
  match_due = true;
  out.records.emplace_back(StationRecord{station, loads});
  out.changes.emplace_back(StationChanged{station});
}

void Core::State::set_job(JobId id, JobState state, const std::string& reason) {
  Job& job = jobs.at(id);
  const bool first_load = state == JobState::loaded && job.state != JobState::loaded;
  job.state = state;
  job.changed = now;
  job.reason = reason;
  if (state == JobState::queued) {
    job.cart.reset();
    job.stops_done = 0;
  }
  if (first_load) job.loaded_at = now;
  if (is_final(state)) {
    job.ended_at = now;
    open_jobs.erase(id);
    changes_of_cart.erase(id);
    ended_jobs.push_back(id);
  }
  if (state != JobState::queued) why_queued.erase(id);
  if (state == JobState::stranded) alarms_due = true;
  // That a job is loaded takes nothing from anybody: its cart had it for certain before.
  if (state != JobState::loaded) match_due = true;
  out.records.emplace_back(JobRecord{job});
  out.changes.emplace_back(JobChanged{id});
}

void Core::State::tell_authority(CartIx cart) {
  CartState& c = at(cart);
  if (!may_move(cart)) return;
  const std::size_t until = authority(cart);
  const PathStep& last = c.path[until];
  if (c.told_trip == c.trip && c.told_until == last.step && c.told_act == last.act) return;

  TellAuthority tell{cart, c.trip, {}};
  for (std::size_t i = 0; i <= until; ++i) {
    const PathStep& step = c.path[i];
    ToldPoint told{};
    told.step = step.step;
    told.point = ways[step.pose].at;
    told.speed = floor.cart.speed;
    if (i > 0) {
      const floor::Move& move = *ways.find_move(c.path[i - 1].pose, step.pose);
      told.branch = move.branch;
      told.gear = move.gear;
      told.length = move.length;
      told.speed = std::min(floor[move.segment].speed, floor.cart.speed);
    }
    if (i < until) {
      const floor::Move& next = *ways.find_move(step.pose, c.path[i + 1].pose);
      told.act = next.turn_round ? ToldAct::turn : ToldAct::go;
    } else {
      switch (step.act) {
        case Act::load:
          told.act = ToldAct::load;
          break;
        case Act::unload:
          told.act = ToldAct::unload;
          break;
        case Act::rest:
          told.act = ToldAct::stop;
          break;
        case Act::go:
          told.act = ToldAct::wait;
          break;
      }
    }
    tell.points.push_back(told);
  }
  c.told_trip = c.trip;
  c.told_until = last.step;
  c.told_act = last.act;
  out.messages.emplace_back(std::move(tell));
}

void Core::State::record_path(CartIx cart) {
  const CartState& c = at(cart);
  out.records.emplace_back(PathRecord{cart, c.trip, c.job, c.path});
}

void Core::State::touch(CartIx cart) {
  due(cart);
  for (const Change& change : out.changes) {
    if (const auto* known = std::get_if<CartChanged>(&change); known && known->cart == cart) return;
  }
  out.changes.emplace_back(CartChanged{cart});
}

void Core::State::answer(RequestId request, std::variant<JobTaken, Accepted, Refusal> what) {
  if (request != 0) out.answers.push_back({request, std::move(what)});
}

void Core::State::refuse(RequestId request, Refused kind, std::string detail) {
  answer(request, Refusal{kind, std::move(detail)});
}

}  // namespace tagline::control
