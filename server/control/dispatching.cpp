// Jobs for carts, and the charger for those that need it. See state.hpp.
#include <algorithm>

#include "server/control/state.hpp"

namespace tagline::control {
namespace {

/// How often pairs are planned through before the matching is taken as it is. More rounds take the
/// plans of the moment too seriously: they bring longer empty ways than they save waiting (measured
/// on the demo floor at saturation: 1 round 0.906 of the bound, 3 rounds 0.911, 12 rounds 0.877).
constexpr int most_rounds = 3;
/// So many pairs at a time, so that a large fleet doesn't hold the core up.
constexpr std::size_t most_planned_through = 12;
/// Not more queued jobs than this are matched at once, the most urgent ones: however long the
/// queue, a decision takes no longer. A job's urgency grows with its age, so each has its turn.
constexpr std::size_t most_jobs_for_each_cart = 8;
constexpr std::size_t most_jobs_besides = 64;
/// How much rather a cart takes the job that would be its first if all were dealt out at once.
constexpr Duration first_of_tour = std::chrono::seconds{30};
/// A job that has changed its cart so often stays with the one it has: however times fall, it can't
/// go back and forth for ever.
constexpr int most_changes_of_cart = 3;

Duration travel_to(const floor::TravelTimes& travel, PoseIx from, PointIx to) {
  return travel.to(to)[from.value];
}

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
    if (c.needs_charge || !may_move({i})) continue;
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

void Core::State::match_jobs() {
  if (!match_due) return;
  matched_at = now;
  std::map<JobId, Reason> why;
  std::vector<JobId> pool;
  std::map<CartIx, JobId> has;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (may_be_reassigned({i})) has[{i}] = *carts[i].job;
  }
  for (const JobId id : open_jobs) {
    const Job& job = jobs.at(id);
    const bool given = job.state == JobState::assigned && job.cart && has.contains(*job.cart);
    if (job.state != JobState::queued && !given) continue;
    if (const auto full = given ? std::nullopt : full_station(job)) {
      why[id] = full_reason(id, *full);
      continue;
    }
    pool.push_back(id);
  }
  const auto publish = [&] {
    for (const auto& [id, reason] : why) {
      const auto known = why_queued.find(id);
      if (known != why_queued.end() && known->second.kind == reason.kind &&
          known->second.cart == reason.cart) {
        continue;
      }
      if (reason.kind == Reason::Kind::no_way ||
          (known != why_queued.end() && known->second.kind == Reason::Kind::no_way)) {
        alarms_due = true;
      }
      out.changes.emplace_back(JobChanged{id});
    }
    why_queued = std::move(why);
    match_due = false;  // what was changed here needs no second look
  };
  if (pool.empty()) {
    publish();
    return;
  }

  refresh_travel();
  const std::vector<Offer> all = all_stopped ? std::vector<Offer>{} : offers();
  // A job that can't be laid out, or not without locking a cart in, must not keep the cart that
  // would be best for it from the other jobs: it is left out and the rest is matched again.
  std::map<JobId, Reason> left_out;
  std::set<CartIx> settled;
  std::map<std::pair<CartIx, JobId>, Duration> delays;
  const std::vector<JobId> within_horizon = most_urgent(pool);
  while (true) {
    std::vector<JobId> wanted;
    for (const JobId id : within_horizon) {
      const Job& job = jobs.at(id);
      if (left_out.contains(id) || (job.cart && settled.contains(*job.cart))) continue;
      if (const auto full = job.state == JobState::queued ? full_station(job) : std::nullopt) {
        left_out[id] = full_reason(id, *full);  // another job has taken the last place there
        continue;
      }
      wanted.push_back(id);
    }
    std::vector<Offer> carts_left;
    for (const Offer& offer : all) {
      if (!settled.contains(offer.cart)) carts_left.push_back(offer);
    }
    dispatch::CostTable table(carts_left.size(), wanted.size());
    for (std::size_t j = 0; j < wanted.size(); ++j) {
      const Job& job = jobs.at(wanted[j]);
      const auto& drives = travel.to(floor[job.from].point);
      const dispatch::Urgency wants = urgency(job);
      for (std::size_t c = 0; c < carts_left.size(); ++c) {
        const Duration drive = drives[carts_left[c].from.value];
        if (drive == Duration::max()) continue;
        table.at(c, j) = dispatch::cost(carts_left[c].ready, drive, prices[job.from.value], wants,
                                        job.cart == carts_left[c].cart);
        if (delays.empty()) continue;
        const auto delay = delays.find({carts_left[c].cart, job.id});
        if (delay != delays.end()) table.at(c, j) += delay->second.count();
      }
    }
    // What each cart would do first if all jobs were dealt out at once is worth a lot. With more
    // carts than jobs that is what the matching finds by itself.
    const auto first = wanted.size() > carts_left.size()
                           ? first_of_tours(carts_left, wanted)
                           : std::vector<std::optional<std::size_t>>(carts_left.size());
    for (std::size_t c = 0; c < carts_left.size(); ++c) {
      if (first[c] && table.at(c, *first[c]) != dispatch::CostTable::forbidden) {
        table.at(c, *first[c]) -= first_of_tour.count();
      }
    }
    auto matching = dispatch::least_cost_matching(table);
    // So far other traffic was left out, so each cost is a least one. The pairs that were matched
    // are planned through, what traffic costs them is added, and all is matched again, until what
    // is matched has been planned: the best with the traffic counted, without planning every pair.
    const auto looks = outlooks();
    const traffic::Forecast as_planned(guard, looks, now);
    for (int round = 0; round < most_rounds && !moving_on; ++round) {
      bool worse = false;
      for (std::size_t c = 0; c < carts_left.size(); ++c) {
        const CartIx cart = carts_left[c].cart;
        if (!matching[c] || !carts_left[c].now || delays.size() >= most_planned_through) continue;
        const JobId id = wanted[*matching[c]];
        const auto mine = has.find(cart);
        if (mine != has.end() && mine->second == id) continue;
        if (!delays
                 .emplace(std::pair(cart, id),
                          delay_by_traffic(cart, jobs.at(id), as_planned, looks))
                 .second) {
          continue;
        }
        const Duration delay = delays.at({cart, id});
        table.at(c, *matching[c]) += delay.count();
        worse = worse || delay > Duration{0};
      }
      if (!worse) break;
      matching = dispatch::least_cost_matching(table);
    }

    // First take back what others are to have; then give.
    std::vector<std::pair<CartIx, JobId>> news;
    std::map<JobId, Reason> open_reasons;
    for (std::size_t c = 0; c < carts_left.size(); ++c) {
      const CartIx cart = carts_left[c].cart;
      const auto mine = has.find(cart);
      if (!matching[c]) {
        if (mine != has.end()) {
          take_from_cart(cart);
          has.erase(mine);
        }
        continue;
      }
      const JobId id = wanted[*matching[c]];
      if (!carts_left[c].now) {
        if (jobs.at(id).state == JobState::queued) {
          open_reasons[id] = Reason{.kind = Reason::Kind::planned_for,
                                    .cart = cart,
                                    .job = id,
                                    .until = now + carts_left[c].ready};
        }
        continue;
      }
      if (mine != has.end() && mine->second == id) {
        settled.insert(cart);
        continue;
      }
      if (mine != has.end()) {
        take_from_cart(cart);
        has.erase(mine);
      }
      news.emplace_back(cart, id);
    }
    bool failed = false;
    for (const auto& [cart, id] : news) {
      const Job& job = jobs.at(id);
      if (job.cart) {
        has.erase(*job.cart);
        take_from_cart(*job.cart);
      }
      if (const auto full = full_station(job)) {
        left_out[id] = full_reason(id, *full);
        failed = true;
      } else if (auto reason = take_up(cart, id)) {
        left_out[id] = *reason;
        failed = true;
      } else {
        has[cart] = id;
        settled.insert(cart);
      }
    }
    if (failed) continue;

    std::optional<Offer> first_free;
    for (const Offer& offer : all) {
      if (!offer.now && (!first_free || offer.ready < first_free->ready)) first_free = offer;
    }
    const bool nobody =
        std::ranges::none_of(carts, [](const CartState& c) { return c.known() && c.connected; });
    for (const JobId id : pool) {
      const Job& job = jobs.at(id);
      if (job.state != JobState::queued) continue;
      Reason reason{.kind = Reason::Kind::others_first, .job = id};
      if (const auto known = left_out.find(id); known != left_out.end()) {
        reason = known->second;
      } else if (all_stopped) {
        reason.kind = Reason::Kind::all_stopped;
      } else if (nobody) {
        reason.kind = Reason::Kind::no_cart;
      } else if (const auto open = open_reasons.find(id); open != open_reasons.end()) {
        reason = open->second;
      } else if (std::ranges::none_of(all, [](const Offer& o) { return o.now; })) {
        reason.kind = Reason::Kind::no_cart_free;
        if (first_free) {
          reason.cart = first_free->cart;
          reason.until = now + first_free->ready;
        }
      } else if (std::ranges::all_of(all, [&](const Offer& o) {
                   return travel_to(travel, o.from, floor[job.from].point) == Duration::max();
                 })) {
        reason = Reason{.kind = Reason::Kind::no_way, .job = id, .station = job.from};
      }
      why[id] = reason;
    }
    publish();
    return;
  }
}

std::optional<Reason> Core::State::take_up(CartIx cart, JobId id) {
  Job& job = jobs.at(id);
  if (!send(cart, stops_left(job), free_rests(cart), id)) {
    for (std::size_t i = 0; i < job.stop_count(); ++i) {
      const PoseIx from = at(cart).path[authority(cart)].pose;
      if (travel_to(travel, from, floor[job.stop(i).station].point) == Duration::max()) {
        return Reason{
            .kind = Reason::Kind::no_way, .cart = cart, .job = id, .station = job.stop(i).station};
      }
    }
    return Reason{.kind = Reason::Kind::locked, .cart = cart, .job = id};
  }
  job.cart = cart;
  set_job(id, JobState::assigned);
  return {};
}

void Core::State::take_from_cart(CartIx cart) {
  CartState& c = at(cart);
  if (!c.job) return;
  // It keeps its way, which leads to a place of rest, and just doesn't stop on it. The next errand
  // takes over from there.
  for (PathStep& step : c.path) {
    if (step.act != Act::rest) step.act = Act::go;
  }
  if (c.path.back().act == Act::go) c.path.back().act = Act::rest;
  const JobId id = *c.job;
  c.job.reset();
  ++changes_of_cart[id];
  set_job(id, JobState::queued);
  record_path(cart);
  touch(cart);
}

void Core::State::send_to_charge() {
  bool charger_wanted = false;
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const CartState& c = carts[i];
    // One that is idle goes without need, but only while nothing else is to be done.
    const bool idle = open_jobs.empty() && c.path.size() == 1 && c.battery < policy.battery_idle;
    if ((!c.needs_charge && !idle) || !free_for_errand({i})) continue;
    if (is_charger(c.path.back().pose)) continue;
    refresh_travel();
    auto places = free_rests({i});
    if (moving_on) {
      for (const floor::Charger& charger : floor.chargers) {
        // One that needs it is not sent away, else two would take turns at leaving.
        if (std::ranges::any_of(carts, [&](const CartState& other) {
              return &other != &c && other.needs_charge && other.on_floor() &&
                     ways[other.path.back().pose].at == charger.point;
            })) {
          continue;
        }
        const auto poses = ways.poses_at(charger.point);
        places.insert(places.end(), poses.begin(), poses.end());
      }
    }
    std::erase_if(places, [&](PoseIx pose) { return !is_charger(pose); });
    const bool sent = !places.empty() && send({i}, {}, places, std::nullopt);
    if (!sent && c.needs_charge) charger_wanted = true;
  }
  if (!charger_wanted || moving_on) return;
  // No charger is free: a cart that rests on one without need makes room.
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    if (!free_for_errand({i}) || carts[i].path.size() != 1 || carts[i].needs_charge ||
        !is_charger(carts[i].path.back().pose)) {
      continue;
    }
    auto places = free_rests({i});
    std::erase_if(places, [&](PoseIx pose) { return is_charger(pose); });
    if (!places.empty() && send({i}, {}, places, std::nullopt)) return;
  }
}

}  // namespace tagline::control
