// Which jobs and which carts are to be matched with one another. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// Not more queued jobs than this are matched at once, the most urgent ones: however long the
/// queue, a decision takes no longer. A job's urgency grows with its age, so each has its turn.
constexpr std::size_t most_jobs_for_each_cart = 8;
constexpr std::size_t most_jobs_besides = 64;
/// A job that has changed its cart so often stays with the one it has: however times fall, it can't
/// go back and forth for ever.
constexpr int most_changes_of_cart = 3;

}  // namespace

bool Core::State::may_be_reassigned(CartIx cart) const {
  const CartState& c = at(cart);
  if (!may_move(cart) || !c.job || c.loaded || c.fault == Fault::blocked) return false;
  if (jobs.at(*c.job).state != JobState::assigned) return false;
  const auto changes = changes_of_cart.find(*c.job);
  if (changes != changes_of_cart.end() && changes->second >= most_changes_of_cart) return false;
  // Once it may drive up to its pickup it may be loaded there any moment.
  for (std::size_t i = 0; i <= authority(cart); ++i) {
    if (c.path[i].act != Act::go) return false;
  }
  return true;
}

std::optional<StationIx> Core::State::full_station(const Job& job) const {
  for (std::size_t i = 1; i < job.stop_count(); ++i) {
    const JobStop stop = job.stop(i);
    const auto& station = floor[stop.station];
    if (stop.what != Handling::unload || !station.capacity) continue;
    int coming = 0;
    for (const CartState& cart : carts) {
      if (!cart.job || *cart.job == job.id) continue;
      const Job& other = jobs.at(*cart.job);
      for (std::size_t s = other.stops_done; s < other.stop_count(); ++s) {
        if (other.stop(s) == stop) ++coming;
      }
    }
    if (station_loads[stop.station.value] + coming >= *station.capacity) return stop.station;
  }
  return {};
}

Reason Core::State::full_reason(JobId id, StationIx station) const {
  return {.kind = Reason::Kind::station_full,
          .job = id,
          .station = station,
          .count = station_loads[station.value]};
}

dispatch::Urgency Core::State::urgency(const Job& job) const {
  return {job.priority, now - job.created, job.due ? std::optional{*job.due - now} : std::nullopt};
}

std::vector<JobId> Core::State::most_urgent(const std::vector<JobId>& pool) const {
  // Those that carts have already are always looked at again.
  std::vector<std::pair<Duration, JobId>> queued;
  std::vector<JobId> chosen;
  for (const JobId id : pool) {
    const Job& job = jobs.at(id);
    if (job.cart) {
      chosen.push_back(id);
    } else {
      queued.emplace_back(dispatch::urgency(urgency(job)), id);
    }
  }
  const std::size_t horizon = most_jobs_for_each_cart * carts.size() + most_jobs_besides;
  if (queued.size() > horizon) {
    const auto more_urgent = [](const auto& a, const auto& b) {
      return a.first != b.first ? a.first > b.first : a.second < b.second;
    };
    std::ranges::nth_element(queued, queued.begin() + static_cast<std::ptrdiff_t>(horizon),
                             more_urgent);
    queued.resize(horizon);
  }
  for (const auto& [how, id] : queued) chosen.push_back(id);
  std::ranges::sort(chosen);
  return chosen;
}

std::vector<Core::State::Offer> Core::State::offers() const {
  std::vector<Offer> found;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartState& c = carts[i];
    if (c.needs_charge || !may_move({i}) || is_down(CartIx{i})) continue;
    const bool free = free_for_errand({i});
    if (free || may_be_reassigned({i})) {
      const traffic::Outlook look = outlook({i});
      found.push_back({{i}, c.path[authority({i})].pose, look.ready - now, true});
      continue;
    }
    if (!c.job || jobs.at(*c.job).state == JobState::queued) continue;
    // Busy: free again where its last stop is, when that is done.
    const traffic::Outlook look = outlook({i});
    Instant done = look.ready;
    std::size_t last = authority({i});
    Duration since_act{0};
    for (std::size_t s = authority({i}) + 1; s < c.path.size(); ++s) {
      since_act += ways.find_move(c.path[s - 1].pose, c.path[s].pose)->time + look.dwell_at(s);
      if (c.path[s].act != Act::load && c.path[s].act != Act::unload) continue;
      done += since_act;
      since_act = Duration{0};
      last = s;
    }
    found.push_back({{i}, c.path[last].pose, done - now, false});
  }
  return found;
}

}  // namespace tagline::control
