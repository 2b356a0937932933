// Parts of the core that several events share. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/traffic/planner.hpp"

namespace tagline::control {

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
  return may_move(cart) && !c.job && !c.loaded && c.fault != Fault::blocked;
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

std::vector<bool> Core::State::open_poses(CartIx cart) const {
  std::vector<bool> closed(track.piece_count(), false);
  const auto close = [&](std::span<const PieceIx> pieces) {
    for (const PieceIx piece : pieces) {
      closed[piece.value] = true;
      for (const PieceIx rival : track.conflicts(piece)) closed[rival.value] = true;
    }
  };
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (i == cart.value) continue;
    if (const auto* itinerary = guard.itinerary({i})) {
      close(track.cover(itinerary->steps.back()));
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

std::vector<PoseIx> Core::State::rests(const std::vector<bool>& open) const {
  std::vector<PoseIx> found;
  for (std::uint32_t i = 0; i < open.size(); ++i) {
    const floor::Point& point = floor[ways[PoseIx{i}].at];
    if (open[i] && point.siding && !point.tags.empty()) found.push_back({i});
  }
  return found;
}

std::vector<PathStep> Core::State::to_path(const dispatch::Errand& errand, Step first) {
  std::vector<PathStep> path;
  for (std::size_t i = 0; i < errand.steps.size(); ++i) {
    Act act = i + 1 == errand.steps.size() ? Act::rest : Act::go;
    if (errand.load_at == i) act = Act::load;
    if (errand.unload_at == i) act = Act::unload;
    path.push_back({first + i, errand.steps[i], act});
  }
  return path;
}

bool Core::State::send(CartIx cart, const dispatch::Errand& errand, std::optional<JobId> job) {
  CartState& c = at(cart);
  const std::size_t until = authority(cart);
  const std::span<const PoseIx> tail(errand.steps.begin() + 1, errand.steps.end());
  traffic::Itinerary next = *guard.itinerary(cart);
  next.steps.resize(until + 1);
  next.steps.insert(next.steps.end(), tail.begin(), tail.end());
  auto order = traffic::find_order(guard, cart, next);
  if (!order || guard.reroute(cart, tail, std::move(*order))) return false;

  auto path = to_path(errand, c.path[until].step);
  c.path.resize(until);
  c.path.insert(c.path.end(), path.begin(), path.end());
  c.last_step = std::max(c.last_step, c.path.back().step);
  c.job = job;
  ++c.trip;
  record_path(cart);
  touch(cart);
  return true;
}

void Core::State::passed(CartIx cart, std::size_t count) {
  CartState& c = at(cart);
  guard.passed(cart, count);
  c.path.erase(c.path.begin(), c.path.begin() + static_cast<std::ptrdiff_t>(count));
  c.passed_at = now;
  touch(cart);
}

bool Core::State::confirm(CartIx cart, std::size_t last, std::size_t until) {
  CartState& c = at(cart);
  traffic::Itinerary itinerary{{}, until - last};
  for (std::size_t i = last; i < c.path.size(); ++i) itinerary.steps.push_back(c.path[i].pose);
  auto order = traffic::find_order_thoroughly(guard, cart, itinerary);
  if (!order || guard.place(cart, itinerary, std::move(*order))) return false;
  c.path.erase(c.path.begin(), c.path.begin() + static_cast<std::ptrdiff_t>(last));
  c.passed_at = now;
  c.doubt.clear();
  c.maybe_at.clear();
  c.overran.reset();
  c.unconfirmed = false;
  c.claim.reset();
  touch(cart);
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
  out.messages.emplace_back(TellStop{cart, "Position in doubt: " + why});
  touch(cart);
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
  c.loaded = loading;
  if (c.job) {
    const JobId id = *c.job;
    if (!loading) c.job.reset();
    set_job(id, loading ? JobState::loaded : JobState::delivered);
  }
  record_path(cart);
  touch(cart);
}

void Core::State::set_job(JobId id, JobState state, const std::string& reason) {
  Job& job = jobs.at(id);
  job.state = state;
  job.changed = now;
  job.reason = reason;
  if (state == JobState::queued) job.cart.reset();
  if (state == JobState::loaded) job.loaded_at = now;
  if (is_final(state)) {
    job.ended_at = now;
    open_jobs.erase(id);
    why_queued.erase(id);
  }
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
