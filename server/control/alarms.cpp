// The alarm list, worked out anew from the state after every event that can change one: an alarm
// can't outlive its cause, and one that persists keeps its number and the time it came up.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// A tag missed this often in a row is worth a look.
constexpr int misses_worth_telling = 2;
constexpr Duration unknown_tag_shown = std::chrono::minutes{10};

bool same_cause(const Alarm& a, const Alarm& b) {
  return a.kind == b.kind && a.cart == b.cart && a.job == b.job && a.point == b.point &&
         a.detail == b.detail;
}

std::string_view remedy(Fault fault) {
  switch (fault) {
    case Fault::blocked:
      return "Something is in its way. It goes on by itself when that is gone.";
    case Fault::tape_lost:
      return "It has lost the tape.";
    case Fault::overrun:
      return "It didn't find the tag at which it was to stop.";
    case Fault::wrong_tag:
      return "It read a tag that isn't on its way.";
    case Fault::battery:
      return "Its battery is flat. Charge it by hand or change it.";
    case Fault::drive:
      return "Its drive has failed. Take it off the floor for repair.";
    case Fault::reader:
      return "Its tag reader has failed. Take it off the floor for repair.";
    case Fault::none:
      break;
  }
  return "";
}

}  // namespace

std::optional<StationIx> Core::State::handling_overdue(CartIx cart) const {
  if (mode(cart) != CartMode::handling) return {};
  const CartState& c = at(cart);
  const auto here = ways[c.path.front().pose].at;
  const auto station = std::ranges::find(floor.stations, here, &floor::Station::point);
  if (station == floor.stations.end()) return {};
  const bool loading = c.path.front().act == Act::load;
  const Duration usual = loading ? station->load : station->unload;
  if (now - c.passed_at < usual + policy.handling_overdue) return {};
  return StationIx{static_cast<std::uint32_t>(station - floor.stations.begin())};
}

void Core::State::refresh_alarms() {
  alarms_due = false;
  std::vector<Alarm> found;
  const auto raise = [&](AlarmKind kind, std::optional<CartIx> cart, std::optional<JobId> job,
                         std::optional<PointIx> point, std::string text, std::string detail = {}) {
    found.push_back({0, kind, cart, job, point, std::move(text), now, std::move(detail)});
  };

  if (all_stopped) {
    raise(AlarmKind::all_stopped, {}, {}, {},
          "All carts are stopped. See that people are clear, then release all.");
  }
  if (!stopped_zones.empty()) {
    raise(AlarmKind::zone_stopped, {}, {}, {},
          "Stopped: " + zone_names(stopped_zones) + ". See that people are clear, then release it.",
          zone_names(stopped_zones));
  }
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartIx cart{i};
    const CartState& c = carts[i];
    if (c.on_floor() && !c.connected) {
      raise(AlarmKind::link_lost, cart, {}, {},
            c.name +
                " is not connected. It stops at the end of its granted track and keeps that "
                "track. If it is off the floor, say so.");
    }
    if (!c.doubt.empty()) {
      raise(AlarmKind::in_doubt, cart, {}, {},
            c.name + " may be anywhere on the track it holds: " + c.doubt +
                ". Look where it stands and say so, or take it off the floor.");
    } else if (c.stopped_at_cart) {
      raise(AlarmKind::needs_release, cart, {}, {},
            c.name + " was stopped by its " + std::string(name_of(*c.stopped_at_cart)) + " near " +
                where(cart) + ". Release it at the cart.",
            std::string(name_of(*c.stopped_at_cart)));
    } else if (!c.release_reason.empty()) {
      raise(AlarmKind::needs_release, cart, {}, {}, c.name + ": " + c.release_reason,
            c.release_reason);
    }
    if (c.fault != Fault::none) {
      raise(AlarmKind::fault, cart, {}, {},
            c.name + " near " + where(cart) + ": " + std::string(remedy(c.fault)),
            std::string(name_of(c.fault)));
    }
    if (const auto station = handling_overdue(cart)) {
      const bool loading = c.path.front().act == Act::load;
      raise(AlarmKind::handling_overdue, cart, c.job, {},
            c.name + " has been waiting at " + floor[*station].name + " to be " +
                (loading ? "loaded" : "unloaded") +
                " for far longer than usual. Others may wait behind it. " +
                (loading ? "Load" : "Unload") +
                " it and say so at the cart, or take it off the floor.",
            std::string(loading ? "load" : "unload"));
    }
    if (c.needs_charge && c.on_floor()) {
      raise(AlarmKind::battery_low, cart, {}, {},
            c.name + " has " + std::to_string(c.battery) +
                " % left. It takes no new job before it has charged.");
    }
    if (c.known() && c.loaded && !c.job) {
      raise(AlarmKind::stranded_load, cart, {}, {},
            c.name +
                " carries a load that no job knows of. Take the load off; it takes no job "
                "before that.");
    }
  }
  for (const auto& [id, job] : jobs) {
    if (job.state == JobState::stranded && now - *job.ended_at < std::chrono::hours{1}) {
      raise(AlarmKind::stranded_load, {}, id, {},
            "The load of job " + std::to_string(id.value) + " to " + floor[job.to].name +
                " is where its cart was left: " + job.reason + ". Find it and see to it.");
    }
  }
  for (const JobId id : open_jobs) {
    const auto why = why_queued.find(id);
    if (why != why_queued.end() && why->second.kind == Reason::Kind::no_way) {
      raise(AlarmKind::no_way, {}, id, {},
            "Job " + std::to_string(id.value) + ": no open way for any cart to " +
                floor[*why->second.station].name + ".");
    }
  }
  std::erase_if(unknown_tags,
                [&](const auto& entry) { return now - entry.second.first > unknown_tag_shown; });
  for (const auto& [tag, seen] : unknown_tags) {
    raise(AlarmKind::unknown_tag, seen.second, {}, {},
          at(seen.second).name + " read tag " + tag + ", which the floor file doesn't know.", tag);
  }
  for (const auto& [point, count] : misses) {
    if (count < misses_worth_telling) continue;
    raise(AlarmKind::missed_tag, {}, {}, point,
          "The tag at " + floor[point].id + " was not read " + std::to_string(count) +
              " times in a row. Clean or replace it.");
  }

  bool changed = found.size() != alarms.size();
  for (Alarm& alarm : found) {
    const auto known =
        std::ranges::find_if(alarms, [&](const Alarm& old) { return same_cause(old, alarm); });
    if (known != alarms.end()) {
      alarm.id = known->id;
      alarm.since = known->since;
      changed = changed || alarm.text != known->text;
    } else {
      alarm.id = ++last_alarm;
      changed = true;
    }
  }
  alarms = std::move(found);
  if (changed) out.changes.emplace_back(AlarmsChanged{});
}

}  // namespace tagline::control
