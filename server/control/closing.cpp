// What people take out of service and bring back, and zones they stop. See downtime.hpp, state.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// A planned downtime further ahead than this is a slip of the pen.
constexpr Duration longest_ahead = std::chrono::hours{24 * 400};

bool has_stop_left_at(const Job& job, StationIx station) {
  for (std::size_t k = job.stops_done; k < job.stop_count(); ++k) {
    if (job.stop(k).station == station) return true;
  }
  return false;
}

}  // namespace

bool Core::State::is_down(const Facility& what) const {
  const auto known = downtimes.find(what);
  return known != downtimes.end() && known->second.from <= now;
}

std::optional<StationIx> Core::State::station_down(const Job& job) const {
  if (downtimes.empty()) return {};
  for (std::size_t i = job.stops_done; i < job.stop_count(); ++i) {
    if (is_down(job.stop(i).station)) return job.stop(i).station;
  }
  return {};
}

std::vector<PieceIx> Core::State::pieces_of(ZoneIx zone) const {
  const auto& segments = floor[zone].segments;
  // Points at its edge belong to the track outside as well, and stay open for that.
  std::vector<bool> at_edge(floor.points.size(), false);
  for (std::uint32_t s = 0; s < floor.segments.size(); ++s) {
    if (std::ranges::find(segments, SegmentIx{s}) != segments.end()) continue;
    at_edge[floor.segments[s].from.value] = at_edge[floor.segments[s].to.value] = true;
  }
  std::vector<PieceIx> pieces;
  for (const SegmentIx segment : segments) {
    pieces.push_back(track.piece(segment));
    for (const PointIx point : {floor[segment].from, floor[segment].to}) {
      if (!at_edge[point.value]) pieces.push_back(track.piece(point));
    }
  }
  std::ranges::sort(pieces);
  const auto [first, last] = std::ranges::unique(pieces);
  pieces.erase(first, last);
  return pieces;
}

bool Core::State::in_zone(CartIx cart, ZoneIx zone) const {
  const auto pieces = pieces_of(zone);
  return std::ranges::any_of(guard.holdings(cart), [&](PieceIx piece) {
    return std::ranges::binary_search(pieces, piece);
  });
}

std::string Core::State::zone_names(const std::set<ZoneIx>& zones) const {
  std::string names;
  for (const ZoneIx zone : zones) names += (names.empty() ? "" : ", ") + floor[zone].name;
  return names;
}

void Core::State::refresh_closed() {
  closed_pieces.clear();
  const auto close = [&](PieceIx piece) {
    closed_pieces.resize(track.piece_count());
    closed_pieces[piece.value] = true;
  };
  for (const auto& [what, downtime] : downtimes) {
    const auto* segment = std::get_if<SegmentIx>(&what);
    if (segment != nullptr && downtime.from <= now) close(track.piece(*segment));
  }
  for (const ZoneIx zone : stopped_zones) std::ranges::for_each(pieces_of(zone), close);
}

std::optional<PieceIx> Core::State::closed_between(PoseIx from, PoseIx to) const {
  if (closed_pieces.empty()) return {};
  const auto on = track.cover(from);
  for (const PieceIx piece : track.cover(to)) {
    if (closed_pieces[piece.value] && !std::ranges::binary_search(on, piece)) return piece;
  }
  return {};
}

std::optional<PieceIx> Core::State::closed_ahead(CartIx cart) const {
  const CartState& c = at(cart);
  const std::size_t until = authority(cart);
  if (until + 1 >= c.path.size()) return {};
  const Act act = c.path[until].act;
  if (act == Act::load || act == Act::unload) return {};  // handling comes first
  return closed_between(c.path[until].pose, c.path[until + 1].pose);
}

void Core::State::lead_round_closed() {
  if (!round_due || closed_pieces.empty()) return;
  round_due = false;
  refresh_travel();
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartState& c = carts[i];
    if (!may_move({i}) || c.fault == Fault::blocked) continue;
    bool closed = false;
    for (std::size_t s = authority({i}); s + 1 < c.path.size() && !closed; ++s) {
      closed = closed_between(c.path[s].pose, c.path[s + 1].pose).has_value();
    }
    const Act act = c.path[authority({i})].act;
    if (!closed || act == Act::load || act == Act::unload) continue;
    // Where no other way is found it keeps the one it has, and waits before the closed track.
    const Job* job = c.job ? &jobs.at(*c.job) : nullptr;
    send({i}, job != nullptr ? stops_left(*job) : std::vector<traffic::Stop>{}, free_rests({i}),
         c.job);
  }
}

void Core::State::service_changed() {
  alarms_due = true;
  match_due = true;
  all_due();
  out.changes.emplace_back(ServiceChanged{});
}

void Core::State::begin_downtime(const Facility& what) {
  if (std::holds_alternative<SegmentIx>(what)) {
    refresh_closed();
    round_due = true;
  }
  // A job that is not under way yet is for another cart, or for later.
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!may_be_reassigned({i})) continue;
    if (is_down(CartIx{i}) || station_down(jobs.at(*carts[i].job))) take_from_cart({i});
  }
  if (const auto* cart = std::get_if<CartIx>(&what)) touch(*cart);
  service_changed();
}

void Core::State::begin_planned_downtimes() {
  for (const auto& [what, downtime] : downtimes) {
    // Those that have begun since the last event but one tick ago at most.
    if (downtime.from > ticked_at && downtime.from <= now) begin_downtime(what);
  }
  ticked_at = now;
}

void Core::State::on(const AskTakeDown& event) {
  if (event.reason.size() > longest_downtime_reason) {
    refuse(event.request, Refused::invalid,
           "The reason is longer than " + std::to_string(longest_downtime_reason) + " bytes.");
    return;
  }
  const Instant from = std::max(event.from.value_or(now), now);
  if (from - now > longest_ahead) {
    refuse(event.request, Refused::invalid, "A downtime is planned 400 days ahead at most.");
    return;
  }
  if (event.until && *event.until <= from) {
    refuse(event.request, Refused::invalid, "It is expected back after its downtime begins.");
    return;
  }
  const bool was_down = is_down(event.what);
  const Downtime downtime{event.what, event.reason, from, event.until};
  downtimes.insert_or_assign(event.what, downtime);
  out.records.emplace_back(DowntimeRecord{event.what, downtime});
  if (was_down && from > now) refresh_closed();  // in service again until then
  if (from <= now) {
    begin_downtime(event.what);
  } else {
    service_changed();
  }
  answer(event.request, Accepted{});
}

void Core::State::on(const AskBringUp& event) {
  if (downtimes.erase(event.what) == 0) {
    refuse(event.request, Refused::conflict, "It is in service already.");
    return;
  }
  out.records.emplace_back(DowntimeRecord{event.what, {}});
  refresh_closed();
  if (const auto* cart = std::get_if<CartIx>(&event.what)) touch(*cart);
  service_changed();
  answer(event.request, Accepted{});
}

void Core::State::stop_with_zones(CartIx cart) {
  CartState& c = at(cart);
  for (const ZoneIx zone : stopped_zones) {
    if (!in_zone(cart, zone) || !c.stopped_with.insert(zone).second) continue;
    out.messages.emplace_back(TellStop{cart, floor[zone].name + " was stopped by a person"});
    touch(cart);
  }
}

void Core::State::on(const AskStopZone& event) {
  stopped_zones.insert(event.zone);
  refresh_closed();
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    // Told once more if it was before: a person who presses again wants it said again.
    carts[i].stopped_with.erase(event.zone);
    stop_with_zones({i});
  }
  round_due = true;
  out.records.emplace_back(ZoneRecord{event.zone, true});
  service_changed();
  answer(event.request, Accepted{});
}

void Core::State::on(const AskReleaseZone& event) {
  if (stopped_zones.erase(event.zone) == 0) {
    refuse(event.request, Refused::conflict, floor[event.zone].name + " is not stopped.");
    return;
  }
  refresh_closed();
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    CartState& c = carts[i];
    if (c.stopped_with.erase(event.zone) == 0) continue;
    touch({i});
    // One that was stopped for another reason too, or is in doubt, stays so.
    if (c.stopped_by_service() || all_stopped || !c.doubt.empty() || c.unconfirmed) continue;
    c.told_trip = 0;
    out.messages.emplace_back(TellRelease{{i}});
  }
  out.records.emplace_back(ZoneRecord{event.zone, false});
  service_changed();
  answer(event.request, Accepted{});
}

std::vector<DowntimeView> Core::downtimes() const {
  const State& s = *state_;
  std::vector<DowntimeView> views;
  for (const auto& [what, downtime] : s.downtimes) {
    DowntimeView view{downtime, downtime.from <= s.now, false};
    if (const auto* segment = std::get_if<SegmentIx>(&what)) {
      const PieceIx piece = s.track.piece(*segment);
      view.clear = view.begun;
      for (std::uint32_t i = 0; i < s.carts.size() && view.clear; ++i) {
        view.clear = !std::ranges::binary_search(s.guard.holdings({i}), piece);
      }
    } else if (const auto* station = std::get_if<StationIx>(&what)) {
      view.clear = view.begun && std::ranges::none_of(s.open_jobs, [&](JobId id) {
                     const Job& job = s.jobs.at(id);
                     return job.cart && has_stop_left_at(job, *station);
                   });
    } else {
      view.clear = view.begun && !s.at(std::get<CartIx>(what)).job;
    }
    views.push_back(std::move(view));
  }
  return views;
}

}  // namespace tagline::control
