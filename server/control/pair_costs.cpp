// What it would cost to give a job to a cart, beyond the drive to its pickup. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"
#include "server/dispatch/tours.hpp"

namespace tagline::control {
namespace {

/// So many jobs are dealt out at once.
constexpr std::size_t tour_horizon = 16;
/// A pair for which no plan by time was found comes after all others.
constexpr Duration no_plan = std::chrono::minutes{10};
/// Setting off and stopping, which every job has and the free-way time has not.
constexpr Duration usual_loss = std::chrono::seconds{4};

}  // namespace

std::vector<Duration> Core::State::find_prices() const {
  const std::size_t n = floor.stations.size();
  std::vector<std::vector<Duration>> times(n, std::vector<Duration>(n, Duration::max()));
  std::vector<double> ends(n, 0);
  std::vector<double> begins(n, 0);
  for (const floor::Demand& flow : floor.demand) {
    ends[flow.to.value] += flow.per_hour;
    begins[flow.from.value] += flow.per_hour;
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      for (const PoseIx pose : ways.poses_at(floor.stations[i].point)) {
        times[i][j] = std::min(times[i][j], travel.time(pose, floor.stations[j].point));
      }
    }
  }
  return dispatch::pickup_prices(times, ends, begins);
}

std::vector<std::optional<std::size_t>> Core::State::first_of_tours(
    const std::vector<Offer>& all_offers, const std::vector<JobId>& wanted) const {
  dispatch::TourProblem problem;
  std::vector<std::pair<Duration, std::size_t>> by_urgency;
  for (std::size_t j = 0; j < wanted.size(); ++j) {
    by_urgency.emplace_back(-dispatch::urgency(urgency(jobs.at(wanted[j]))), j);
  }
  if (by_urgency.size() > tour_horizon) {
    std::ranges::nth_element(by_urgency,
                             by_urgency.begin() + static_cast<std::ptrdiff_t>(tour_horizon));
    by_urgency.resize(tour_horizon);
  }
  std::ranges::sort(by_urgency);
  std::vector<std::size_t> picked;
  for (const auto& [how, j] : by_urgency) picked.push_back(j);
  const auto between = [&](StationIx from, StationIx to) {
    Duration least = Duration::max();
    for (const PoseIx pose : ways.poses_at(floor[from].point)) {
      least = std::min(least, travel.time(pose, floor[to].point));
    }
    return least;
  };
  for (const std::size_t j : picked) {
    const Job& job = jobs.at(wanted[j]);
    Duration work{0};
    for (const traffic::Stop& stop : stops_left(job)) work += stop.dwell + usual_loss / 2;
    for (std::size_t i = job.stops_done; i + 1 < job.stop_count(); ++i) {
      const Duration leg = between(job.stop(i).station, job.stop(i + 1).station);
      if (leg != Duration::max()) work += leg;
    }
    problem.work.push_back(work);
    auto& row = problem.empty.emplace_back();
    for (const std::size_t next : picked) {
      row.push_back(between(job.to, jobs.at(wanted[next]).from));
    }
    const auto steps = dispatch::urgency(urgency(jobs.at(wanted[j]))) / std::chrono::minutes{1};
    problem.weight.push_back(std::clamp<std::int64_t>(20 + steps, 2, 1000));
  }
  for (const Offer& offer : all_offers) {
    problem.ready.push_back(offer.ready);
    auto& row = problem.start.emplace_back();
    for (const std::size_t j : picked) {
      row.push_back(travel.time(offer.from, floor[jobs.at(wanted[j]).from].point));
    }
  }
  std::vector<std::optional<std::size_t>> first;
  for (const auto& tour : dispatch::plan_tours(problem)) {
    first.push_back(tour.empty() ? std::nullopt : std::optional{picked[tour.front()]});
  }
  return first;
}

Duration Core::State::delay_by_traffic(CartIx cart, const Job& job,
                                       const traffic::Forecast& as_planned,
                                       const std::vector<traffic::Outlook>& looks) const {
  const traffic::Outlook& look = looks[cart.value];
  const traffic::WayWish wish{.cart = cart,
                              .start = at(cart).path[authority(cart)].pose,
                              .ready = look.ready,
                              .standing = look.standing,
                              .stops = stops_left(job),
                              .rests = free_rests(cart),
                              .all_rests = &limit.rests};
  const auto found = traffic::cost_of_sending(as_planned, looks, now, wish, travel);
  if (!found) return no_plan;
  Duration free = travel.time(wish.start, wish.stops.front().point);
  for (std::size_t s = 0; s < found->stops; ++s) {
    free += wish.stops[s].dwell;
    if (s + 1 == found->stops) continue;
    Duration leg = Duration::max();
    for (const PoseIx pose : ways.poses_at(wish.stops[s].point)) {
      leg = std::min(leg, travel.time(pose, wish.stops[s + 1].point));
    }
    if (leg != Duration::max()) free += leg;
  }
  // `mine` ends where the handling at the last of these stops begins.
  const Duration done = found->mine + wish.stops[found->stops - 1].dwell - (wish.ready - now);
  return std::max(Duration{0}, done - free - usual_loss / 2 + found->others);
}

}  // namespace tagline::control
