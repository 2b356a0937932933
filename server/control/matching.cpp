// Which cart is to do which job next: all that are open, and all carts, decided at once. What is
// optimised is stated in dispatch/assignment.hpp. See state.hpp.
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
/// How much rather a cart takes the job that would be its first if all were dealt out at once.
constexpr Duration first_of_tour = std::chrono::seconds{30};
/// How often all is matched again without the jobs that turned out not to be possible now.
constexpr int most_attempts = 8;

}  // namespace

/// One matching, from what is open to what the carts have.
struct Core::State::Matching {
  State& s;
  std::vector<JobId> pool;      // open, could be given to a cart, and there is room for its load
  std::map<CartIx, JobId> has;  // may still be taken from the cart
  std::map<JobId, Reason> why;  // of all that are queued in the end
  std::vector<JobId> within_horizon{};
  std::vector<Offer> all{};
  /// Not to be given to anybody now.
  std::map<JobId, Reason> left_out{};
  std::set<CartIx> settled{};
  std::map<std::pair<CartIx, JobId>, Duration> delays{};
  /// Those for which a cart that is busy now is the best.
  std::map<JobId, Reason> planned{};

  using Matched = std::vector<std::optional<std::size_t>>;
  struct Attempt {
    std::vector<Offer> carts;
    std::vector<JobId> jobs;
    dispatch::CostTable table;
  };

  void collect();
  void run();
  [[nodiscard]] Attempt begin_attempt(bool with_tours);
  [[nodiscard]] Matched match(Attempt& attempt);
  /// False if something could not be put in place.
  bool carry_out(const Attempt& attempt, const Matched& matched);
  void take_back(CartIx cart);
  void explain();
  /// Why a job that was not tried and has no plan waits.
  [[nodiscard]] Reason common_reason() const;
  void publish();
};

void Core::State::match_jobs() {
  if (!match_due) return;
  matched_at = now;
  back_of_queue.reset();
  Matching matching{*this, {}, {}, {}};
  matching.collect();
  if (!matching.pool.empty()) {
    matching.run();
    matching.explain();
  }
  matching.publish();
  match_due = false;  // what was changed here needs no second look
}

void Core::State::Matching::collect() {
  for (std::uint32_t i = 0; i < s.carts.size(); ++i) {
    if (s.may_be_reassigned({i})) has[{i}] = *s.carts[i].job;
  }
  for (const JobId id : s.open_jobs) {
    const Job& job = s.jobs.at(id);
    const bool given = job.state == JobState::assigned && job.cart && has.contains(*job.cart);
    if (job.state != JobState::queued && !given) continue;
    if (auto reason = given ? std::nullopt : s.barred(job))
      why[id] = *reason;
    else
      pool.push_back(id);
  }
}

void Core::State::Matching::run() {
  s.refresh_travel();
  if (!s.all_stopped) all = s.offers();
  std::vector<JobId> not_put_off;
  for (const JobId id : pool) {
    if (const auto known = s.put_off.find(id); known != s.put_off.end()) {
      left_out.insert(*known);
    } else {
      not_put_off.push_back(id);
    }
  }
  within_horizon = s.most_urgent(not_put_off);
  if (within_horizon.size() < not_put_off.size()) {
    Duration least = Duration::max();
    for (const JobId id : within_horizon)
      if (const Job& job = s.jobs.at(id); !job.cart)
        least = std::min(least, dispatch::urgency(s.urgency(job)));
    s.back_of_queue = BackOfQueue{least, {}};
  }
  // A job that can't be laid out, or not without locking a cart in, must not keep the cart that
  // would be best for it from the other jobs: it is left out and the rest is matched again.
  bool done = false;
  for (int attempts = 0; !done && attempts < most_attempts; ++attempts) {
    Attempt attempt = begin_attempt(attempts == 0);
    done = carry_out(attempt, match(attempt));
  }
  // The next time those that were not tried have their turn; when all had it, it begins anew.
  s.put_off = done ? std::map<JobId, Reason>{} : left_out;
}

Core::State::Matching::Attempt Core::State::Matching::begin_attempt(bool with_tours) {
  Attempt attempt{{}, {}, dispatch::CostTable(0, 0)};
  auto& [carts, wanted, table] = attempt;
  for (const JobId id : within_horizon) {
    const Job& job = s.jobs.at(id);
    if (left_out.contains(id) || (job.cart && settled.contains(*job.cart))) continue;
    if (const auto full = job.state == JobState::queued ? s.full_station(job) : std::nullopt) {
      left_out[id] = s.full_reason(id, *full);  // another job has taken the last place there
      continue;
    }
    wanted.push_back(id);
  }
  std::ranges::copy_if(all, std::back_inserter(carts),
                       [&](const Offer& offer) { return !settled.contains(offer.cart); });
  table = dispatch::CostTable(carts.size(), wanted.size());
  for (std::size_t j = 0; j < wanted.size(); ++j) {
    const Job& job = s.jobs.at(wanted[j]);
    const auto& drives = s.travel.to(s.floor[job.from].point);
    const dispatch::Urgency wants = s.urgency(job);
    for (std::size_t c = 0; c < carts.size(); ++c) {
      const Duration drive = drives[carts[c].from.value];
      if (drive == Duration::max()) continue;
      table.at(c, j) = dispatch::cost(carts[c].ready, drive, s.prices[job.from.value], wants,
                                      job.cart == carts[c].cart);
      if (delays.empty()) continue;
      const auto delay = delays.find({carts[c].cart, job.id});
      if (delay != delays.end()) table.at(c, j) += delay->second.count();
    }
  }
  // What each cart would do first if all jobs were dealt out at once is worth a lot. With more
  // carts than jobs that is what the matching finds by itself.
  if (!with_tours || wanted.size() <= carts.size()) return attempt;
  const auto first = s.first_of_tours(carts, wanted);
  for (std::size_t c = 0; c < carts.size(); ++c) {
    if (first[c] && table.at(c, *first[c]) != dispatch::CostTable::forbidden) {
      table.at(c, *first[c]) -= first_of_tour.count();
    }
  }
  return attempt;
}

Core::State::Matching::Matched Core::State::Matching::match(Attempt& attempt) {
  auto& [carts, wanted, table] = attempt;
  auto matching = dispatch::least_cost_matching(table);
  // So far other traffic was left out, so each cost is a least one. The pairs that were matched
  // are planned through, what traffic costs them is added, and all is matched again, until what
  // is matched has been planned: the best with the traffic counted, without planning every pair.
  if (s.moving_on) return matching;
  const auto looks = s.outlooks();
  const traffic::Forecast as_planned(s.guard, looks, s.now);
  for (int round = 0; round < most_rounds; ++round) {
    bool worse = false;
    for (std::size_t c = 0; c < carts.size(); ++c) {
      const CartIx cart = carts[c].cart;
      if (!matching[c] || !carts[c].now || delays.size() >= most_planned_through) continue;
      const JobId id = wanted[*matching[c]];
      const auto mine = has.find(cart);
      if ((mine != has.end() && mine->second == id) || delays.contains({cart, id})) continue;
      const Duration delay = s.delay_by_traffic(cart, s.jobs.at(id), as_planned, looks);
      delays[{cart, id}] = delay;
      table.at(c, *matching[c]) += delay.count();
      worse = worse || delay > Duration{0};
    }
    if (!worse) break;
    matching = dispatch::least_cost_matching(table);
  }
  return matching;
}

void Core::State::Matching::take_back(CartIx cart) {
  has.erase(cart);
  s.take_from_cart(cart);
}

bool Core::State::Matching::carry_out(const Attempt& attempt, const Matched& matched) {
  // First take back what others are to have; then give.
  std::vector<std::pair<CartIx, JobId>> news;
  planned.clear();
  for (std::size_t c = 0; c < attempt.carts.size(); ++c) {
    const Offer& offer = attempt.carts[c];
    const auto mine = has.find(offer.cart);
    if (!matched[c]) {
      if (mine != has.end()) take_back(offer.cart);
      continue;
    }
    const JobId id = attempt.jobs[*matched[c]];
    if (!offer.now) {
      if (s.jobs.at(id).state == JobState::queued) {
        planned[id] = Reason{.kind = Reason::Kind::planned_for,
                             .cart = offer.cart,
                             .job = id,
                             .until = s.now + offer.ready};
      }
      continue;
    }
    if (mine != has.end() && mine->second == id) {
      settled.insert(offer.cart);
      continue;
    }
    if (mine != has.end()) take_back(offer.cart);
    news.emplace_back(offer.cart, id);
  }
  bool done = true;
  for (const auto& [cart, id] : news) {
    const Job& job = s.jobs.at(id);
    if (job.cart) take_back(*job.cart);
    if (const auto full = s.full_station(job)) {
      left_out[id] = s.full_reason(id, *full);
      done = false;
    } else if (auto reason = s.take_up(cart, id)) {
      left_out[id] = *reason;
      done = false;
    } else {
      has[cart] = id;
      settled.insert(cart);
    }
  }
  return done;
}

Reason Core::State::Matching::common_reason() const {
  Reason reason{.kind = Reason::Kind::others_first};
  std::optional<Offer> first_free;
  for (const Offer& offer : all) {
    if (!offer.now && (!first_free || offer.ready < first_free->ready)) first_free = offer;
  }
  const bool nobody = std::ranges::none_of(s.carts, [&](const CartState& c) {
    const CartIx cart{static_cast<std::uint32_t>(&c - s.carts.data())};
    return c.known() && c.connected && !s.is_down(cart);
  });
  const bool none_free = std::ranges::none_of(all, [](const Offer& offer) { return offer.now; });
  if (s.all_stopped) {
    reason.kind = Reason::Kind::all_stopped;
  } else if (nobody) {
    reason.kind = Reason::Kind::no_cart;
  } else if (none_free) {
    reason.kind = Reason::Kind::no_cart_free;
    if (first_free) {
      reason.cart = first_free->cart;
      reason.until = s.now + first_free->ready;
    }
  }
  return reason;
}

void Core::State::Matching::explain() {
  const Reason common = common_reason();
  const bool may_be_planned =
      common.kind != Reason::Kind::all_stopped && common.kind != Reason::Kind::no_cart;
  const auto no_way_to = [&](const Job& job) {
    return common.kind == Reason::Kind::others_first &&
           std::ranges::all_of(all, [&](const Offer& offer) {
             return s.travel.time(offer.from, s.floor[job.from].point) == Duration::max();
           });
  };
  for (const JobId id : pool) {
    const Job& job = s.jobs.at(id);
    if (job.state != JobState::queued) continue;
    Reason reason = common;
    if (const auto known = left_out.find(id); known != left_out.end()) {
      reason = known->second;
    } else if (const auto plan = planned.find(id); may_be_planned && plan != planned.end()) {
      reason = plan->second;
    } else if (no_way_to(job)) {
      reason = Reason{.kind = Reason::Kind::no_way, .station = job.from};
    }
    reason.job = id;
    why.emplace_hint(why.end(), id, reason);
  }
  if (s.back_of_queue) s.back_of_queue->reason = common;
}

std::optional<Reason> Core::State::barred(const Job& job) const {
  if (const auto down = station_down(job))
    return Reason{.kind = Reason::Kind::station_down, .job = job.id, .station = down};
  if (const auto full = full_station(job)) return full_reason(job.id, *full);
  return {};
}

bool Core::State::queue_behind(const Job& job) {
  if (!back_of_queue || barred(job)) return false;
  if (dispatch::urgency(urgency(job)) >= back_of_queue->least_urgent) return false;
  Reason reason = back_of_queue->reason;
  reason.job = job.id;
  why_queued[job.id] = reason;
  return true;
}

void Core::State::Matching::publish() {
  for (const auto& [id, reason] : why) {
    const auto known = s.why_queued.find(id);
    if (known != s.why_queued.end() && known->second.kind == reason.kind &&
        known->second.cart == reason.cart) {
      continue;
    }
    if (reason.kind == Reason::Kind::no_way ||
        (known != s.why_queued.end() && known->second.kind == Reason::Kind::no_way)) {
      s.alarms_due = true;
    }
    s.out.changes.emplace_back(JobChanged{id});
  }
  s.why_queued = std::move(why);
}

}  // namespace tagline::control
