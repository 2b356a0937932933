// The event loop of a fast run: see fleet_run.hpp.
#include "server/sim/fleet_run.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <numeric>
#include <queue>

#include "server/sim/closing_referee.hpp"
#include "server/sim/fleet_audit.hpp"
#include "server/sim/fleet_cart.hpp"
#include "server/sim/fleet_figures.hpp"
#include "server/sim/merge_waits.hpp"
#include "server/sim/start_places.hpp"

namespace tagline::sim {
namespace {

using control::CartMode;

constexpr double never = std::numeric_limits<double>::infinity();
constexpr control::RequestId ours = 1;

/// The run is over: an invariant is broken.
struct Broken {
  std::string what;
};

double reach_of(const floor::CartBody& cart) {
  const auto nose = static_cast<double>(cart.reader_to_nose.value);
  const auto length = static_cast<double>(cart.length.value);
  return std::hypot(std::max(nose, length - nose), static_cast<double>(cart.width.value) / 2);
}

Random stream(std::uint64_t seed, std::uint64_t number) {
  Random mixed{seed * 0x9E3779B97F4A7C15ULL + number};
  return Random{mixed.next()};
}

class FleetRun {
 public:
  FleetRun(const floor::Track& track, const FleetRunOptions& options, const EventTap& tap)
      : track_{track},
        floor_{track.floor()},
        options_{options},
        tap_{tap},
        tapes_{track.ways()},
        jobs_{job_flows(floor_), stream(options.seed, 1)},
        mishaps_{stream(options.seed, 2)},
        merges_{track},
        referee_{options.carts, reach_of(floor_.cart),
                 static_cast<double>(floor_.cart.speed.value) * tapes_.most_scale(),
                 [this](std::size_t body, double now) { return seen(body, now); }},
        core_{track, run_cart_names(options.carts), control::Policy{}, control::Restored{},
              run_begins} {
    const CartNature nature{options.speed_noise, options.miss_rate, !floor_.chargers.empty()};
    carts_.reserve(options.carts);
    for (std::uint32_t i = 0; i < options.carts; ++i) {
      carts_.emplace_back(CartIx{i}, tapes_, PoseIx{0}, nature, stream(options.seed, 100 + i));
    }
    links_.resize(options.carts);
    care_.resize(options.carts);
    due_.assign(options.carts, never);
    wait_.resize(options.carts);
    for (std::size_t p = 0; p < floor_.points.size(); ++p) {
      const auto here = std::ranges::count(floor_.stations, PointIx{static_cast<std::uint32_t>(p)},
                                           &floor::Station::point);
      several_stations_ = several_stations_ || here > 1;
    }
    for (const floor::Demand& demand : floor_.demand) demand_per_hour_ += demand.per_hour;
  }

  FleetRunResult run(const RunProgress& progress) {
    try {
      place_all();
      start_streams();
      loop(progress);
    } catch (const Broken& broken) {
      result_.broken = broken.what;
    }
    finish();
    return result_;
  }

 private:
  enum class Kind {
    cart,
    tick,
    job,
    block,
    drop,
    link_gone,
    link_back,
    resend,
    report,
    visit,
    take_load,
    audit
  };
  struct Due {
    double at{};
    std::uint64_t order{};
    Kind kind{};
    std::uint32_t cart{};
    std::uint32_t epoch{};
    bool operator>(const Due& other) const {
      return std::tie(at, order) > std::tie(other.at, other.order);
    }
  };
  struct ToService {
    double due{};
    CartIx cart;
    std::uint32_t epoch{};
    control::Event event;
  };
  struct ToCart {
    double due{};
    CartIx cart;
    std::uint32_t epoch{};
    control::Message message;
  };
  struct Link {
    /// Grows with every loss and every return; what was sent in another one is lost.
    std::uint32_t epoch{0};
    bool up{true}, welcomed{true};
    /// The one in which the service last heard from it.
    std::uint32_t service_epoch{0};
    bool service_knows_lost{false};
    std::vector<control::Event> unsent;
  };
  struct Care {
    bool called{false};
    int in_vain{0};
  };
  struct Wait {
    bool waits{false};
    double since{};
    std::optional<std::size_t> merge;
  };
  struct JobTrack {
    control::JobState state{control::JobState::queued};
  };

  // ---- the loop -------------------------------------------------------------------------------

  void loop(const RunProgress& progress) {
    const double end = options_.hours * 3600;
    double told = 0;
    while (true) {
      double next = std::min(queue_.empty() ? never : queue_.top().at, referee_.due());
      if (!to_service_.empty()) next = std::min(next, to_service_.front().due);
      if (!to_cart_.empty()) next = std::min(next, to_cart_.front().due);
      if (next > end) break;
      now_ = std::max(now_, next);
      if (referee_.due() <= now_) {
        look();
      } else if (!to_service_.empty() && to_service_.front().due <= now_) {
        ToService sent = std::move(to_service_.front());
        to_service_.pop_front();
        if (sent.epoch == links_[sent.cart.value].epoch) arrives(sent);
      } else if (!to_cart_.empty() && to_cart_.front().due <= now_) {
        const ToCart sent = std::move(to_cart_.front());
        to_cart_.pop_front();
        if (sent.epoch == links_[sent.cart.value].epoch) deliver(sent);
      } else {
        const Due due = queue_.top();
        queue_.pop();
        happens(due);
      }
      if (progress && now_ - told >= 60) {
        told = now_;
        progress(now_, result_.deliveries);
      }
    }
    now_ = end;
  }

  void at(double when, Kind kind, std::uint32_t cart = 0, std::uint32_t epoch = 0) {
    queue_.push({when, ++order_, kind, cart, epoch});
  }

  void happens(const Due& due) {
    // Of a load taken away it is the station.
    FleetCart& cart = carts_[due.kind == Kind::take_load ? 0 : due.cart];
    switch (due.kind) {
      case Kind::cart:
        if (due_[due.cart] != due.at) return;
        due_[due.cart] = never;
        cart.wake(now_);
        collect({due.cart});
        break;
      case Kind::tick:
        feed(control::Tick{});
        watch_for_gridlock();
        at(now_ + figures::tick_s, Kind::tick);
        break;
      case Kind::job:
        ask_job(jobs_.draw());
        at(now_ + jobs_.gap(rate()), Kind::job);
        break;
      case Kind::block:
        cart.block(now_, now_ + mishaps_.between(figures::stall_least_s, figures::stall_most_s));
        collect({due.cart});
        at(cart_mishap(options_.stalls_per_hour), Kind::block, due.cart);
        break;
      case Kind::drop:
        lose_link({due.cart});
        break;
      case Kind::link_gone:
        if (links_[due.cart].epoch == due.epoch) service_loses({due.cart});
        break;
      case Kind::link_back:
        link_returns({due.cart});
        break;
      case Kind::resend:
        if (links_[due.cart].epoch == due.epoch) resend({due.cart});
        break;
      case Kind::report:
        cart.report(now_);
        collect({due.cart});
        at(now_ + figures::report_every_s, Kind::report, due.cart);
        break;
      case Kind::visit:
        visit({due.cart});
        break;
      case Kind::take_load:
        take_load({due.cart});
        break;
      case Kind::audit:
        audit();
        at(now_ + figures::audit_every_s, Kind::audit);
        break;
    }
  }

  void start_streams() {
    at(now_ + figures::tick_s, Kind::tick);
    at(now_ + figures::audit_every_s, Kind::audit);
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      // Spread, so that the reports don't all fall on one moment.
      at(figures::report_every_s * (i + 1) / static_cast<double>(carts_.size()), Kind::report, i);
      if (options_.stalls_per_hour > 0) {
        at(cart_mishap(options_.stalls_per_hour), Kind::block, i);
      }
      if (options_.drops_per_hour > 0) at(cart_mishap(options_.drops_per_hour), Kind::drop, i);
    }
    if (options_.jobs == FleetRunOptions::Jobs::saturate) {
      keep_queue_full();
    } else if (rate() > 0) {
      at(now_ + jobs_.gap(rate()), Kind::job);
    }
  }

  [[nodiscard]] double rate() const {
    return options_.jobs == FleetRunOptions::Jobs::per_hour ? options_.jobs_per_hour
                                                            : demand_per_hour_;
  }
  double cart_mishap(double per_hour) {
    return now_ - std::log(1 - mishaps_.between(0, 1)) * 3600 / per_hour;
  }

  // ---- the core -------------------------------------------------------------------------------

  /// True if our own request, should it be one, was accepted.
  bool feed(const control::Event& event) {
    const Instant moment =
        run_begins + Duration{static_cast<std::int64_t>(std::floor(now_ * 1000 + 1e-6))};
    if (tap_) tap_(moment, event);
    ++result_.events;
    control::Outcome outcome;
    try {
      if (std::holds_alternative<control::Tick>(event)) core_.assert_nobody_forgotten();
      outcome = core_.handle(moment, event);
    } catch (const std::exception& error) {
      throw Broken{"the core broke an invariant: " + std::string(error.what())};
    }
    for (control::Message& message : outcome.messages) {
      if (std::holds_alternative<control::TellHold>(message)) continue;
      const CartIx cart = std::visit([](const auto& m) { return m.cart; }, message);
      to_cart_.push_back({now_ + figures::link_latency_s, cart, links_[cart.value].service_epoch,
                          std::move(message)});
    }
    for (const control::Record& record : outcome.records) {
      if (const auto* job = std::get_if<control::JobRecord>(&record)) {
        take_job(job->job);
      } else if (const auto* cart = std::get_if<control::CartRecord>(&record)) {
        if (!cart->doubt.empty() || cart->needs_release) call_helper(cart->cart);
      }
    }
    bool accepted = false;
    for (const control::Answer& answer : outcome.answers) {
      accepted = accepted || !std::holds_alternative<control::Refusal>(answer.what);
    }
    return accepted;
  }

  void take_job(const control::Job& job) {
    if (job_tracks_.size() < job.id.value) {
      job_tracks_.resize(job.id.value);
      count_open(+1);
      ++queued_;
      ++result_.jobs_created;
    }
    JobTrack& track = job_tracks_[job.id.value - 1];
    const control::JobState before = track.state;
    if (before == job.state) return;
    track.state = job.state;
    if (before == control::JobState::queued) --queued_;
    if (job.state == control::JobState::queued) ++queued_;
    if (!control::is_final(job.state)) return;
    count_open(-1);
    if (job.state == control::JobState::delivered) {
      ++result_.deliveries;
      if (floor_[job.to].capacity) {
        at(now_ + figures::load_taken_s, Kind::take_load, job.to.value);
      }
      lead_times_.push_back(std::chrono::duration<double>(*job.ended_at - job.created).count());
    } else if (job.state == control::JobState::stranded) {
      ++result_.jobs_stranded;
    }
  }

  void count_open(int by) {
    open_area_ += static_cast<double>(open_) * (now_ - open_since_);
    open_since_ = now_;
    open_ = by > 0 ? open_ + 1 : open_ - 1;
  }

  bool ask_job(const JobFlow& flow) {
    const bool taken = feed(control::AskJob{.request = ours,
                                            .from = floor_[flow.from].id,
                                            .to = floor_[flow.to].id,
                                            .priority = 5,
                                            .note = {},
                                            .key = {}});
    if (!taken) ++result_.jobs_refused;
    return taken;
  }

  void keep_queue_full() {
    if (options_.jobs != FleetRunOptions::Jobs::saturate) return;
    const std::size_t wanted = std::max<std::size_t>(10, 6 * carts_.size());
    while (queued_ < wanted) {
      const std::size_t before = queued_;
      if (!ask_job(jobs_.deal())) return;
      if (queued_ < before) return;  // given away at once; the next event asks again
    }
  }

  // ---- links ----------------------------------------------------------------------------------

  /// Sends what the cart has to say, and takes note of what changed.
  void collect(CartIx ix) {
    FleetCart& cart = carts_[ix.value];
    Link& link = links_[ix.value];
    for (control::Event& event : cart.out()) {
      if (link.up && link.welcomed) {
        to_service_.push_back({now_ + figures::link_latency_s, ix, link.epoch, std::move(event)});
      } else if (!std::holds_alternative<control::CartReports>(event)) {
        link.unsent.push_back(std::move(event));
      }
    }
    cart.out().clear();
    if (cart.stirred()) referee_.stirred(ix.value, now_);
    if (cart.due() != due_[ix.value]) {
      due_[ix.value] = cart.due();
      if (cart.due() < never) at(cart.due(), Kind::cart, ix.value);
    }
    if (cart.fault() == control::Fault::battery || cart.fault() == control::Fault::overrun) {
      call_helper(ix);
    }
    follow_wait(ix);
  }

  void arrives(const ToService& sent) {
    Link& link = links_[sent.cart.value];
    if (std::holds_alternative<control::CartGreets>(sent.event)) {
      if (!link.service_knows_lost) service_loses(sent.cart);
      link.service_epoch = sent.epoch;
      link.service_knows_lost = false;
    }
    feed(sent.event);
    if (wait_[sent.cart.value].waits) note_merge(sent.cart);
    keep_queue_full();
  }

  void deliver(const ToCart& sent) {
    FleetCart& cart = carts_[sent.cart.value];
    if (several_stations_ && std::holds_alternative<control::TellAuthority>(sent.message)) {
      if (const auto job = core_.cart(sent.cart).job) {
        const control::Job& wanted = *core_.job(*job);
        cart.handle_at(cart.loaded() ? wanted.to : wanted.from);
      }
    }
    cart.receive(now_, sent.message);
    collect(sent.cart);
    if (wait_[sent.cart.value].waits) note_merge(sent.cart);
  }

  void lose_link(CartIx ix) {
    Link& link = links_[ix.value];
    // What was on its way and must not be lost waits for the next connection, in order.
    std::vector<control::Event> kept;
    for (ToService& sent : to_service_) {
      if (sent.cart != ix || sent.epoch != link.epoch) continue;
      const bool kept_for_later = !std::holds_alternative<control::CartReports>(sent.event) &&
                                  !std::holds_alternative<control::CartGreets>(sent.event);
      if (kept_for_later) kept.push_back(std::move(sent.event));
    }
    link.unsent.insert(link.unsent.begin(), std::make_move_iterator(kept.begin()),
                       std::make_move_iterator(kept.end()));
    link.up = link.welcomed = false;
    ++link.epoch;
    at(now_ + figures::link_loss_noticed_s, Kind::link_gone, ix.value, link.epoch);
    at(now_ + mishaps_.between(figures::drop_least_s, figures::drop_most_s), Kind::link_back,
       ix.value);
  }

  void service_loses(CartIx ix) {
    links_[ix.value].service_knows_lost = true;
    feed(control::CartLinkLost{ix});
    keep_queue_full();
  }

  void link_returns(CartIx ix) {
    Link& link = links_[ix.value];
    link.up = true;
    ++link.epoch;
    to_service_.push_back(
        {now_ + figures::link_latency_s, ix, link.epoch, carts_[ix.value].greeting(now_)});
    at(now_ + figures::welcome_s, Kind::resend, ix.value, link.epoch);
    at(cart_mishap(options_.drops_per_hour), Kind::drop, ix.value);
  }

  void resend(CartIx ix) {
    Link& link = links_[ix.value];
    link.welcomed = true;
    for (control::Event& event : link.unsent) {
      to_service_.push_back({now_ + figures::link_latency_s, ix, link.epoch, std::move(event)});
    }
    link.unsent.clear();
    carts_[ix.value].report(now_);
    collect(ix);
  }

  // ---- people ---------------------------------------------------------------------------------

  void call_helper(CartIx ix) {
    if (std::exchange(care_[ix.value].called, true)) return;
    care_[ix.value].in_vain = 0;
    at(now_ + figures::helper_comes_s, Kind::visit, ix.value);
  }

  /// Somebody takes one load away from a station and says how many are left.
  void take_load(StationIx station) {
    const int loads = core_.loads_at(station).value_or(0);
    if (loads > 0) feed(control::AskCountLoads{ours, floor_[station].id, loads - 1});
    keep_queue_full();
  }

  void visit(CartIx ix) {
    FleetCart& cart = carts_[ix.value];
    Care& care = care_[ix.value];
    const CartMode mode = core_.cart(ix).mode;
    bool helped = true;
    if (cart.fault() == control::Fault::battery) {
      cart.change_battery(now_);
      collect(ix);
    } else if (mode == CartMode::needs_release) {
      helped = feed(control::AskReleaseCart{ours, ix});
    } else if (mode == CartMode::in_doubt || mode == CartMode::off_floor) {
      helped = links_[ix.value].up && cart.still() && put_right(ix);
    } else if (cart.fault() == control::Fault::overrun) {
      cart.push_back(now_);
      collect(ix);
    } else {
      care.called = false;  // it has come right by itself
      return;
    }
    keep_queue_full();
    if (helped) {
      ++result_.helped;
      care.called = false;
      return;
    }
    ++care.in_vain;
    at(now_ + figures::helper_again_s, Kind::visit, ix.value);
  }

  /// Sets the cart on the tag it passed last, or on the next one, and says so.
  bool put_right(CartIx ix) {
    FleetCart& cart = carts_[ix.value];
    if (care_[ix.value].in_vain >= figures::visits_in_vain) {
      feed(control::AskRemoveCart{ours, ix});
      cart.take_load_off(now_);
      collect(ix);
      for (const PoseIx pose : start_places(track_)) {
        if (!track_.floor()[track_.ways()[pose].at].siding) break;
        if (place(ix, pose)) return true;
      }
      return false;
    }
    for (const TapeWalk::Leg* leg : {&cart.walk().home(), cart.walk().ahead(1)}) {
      if (leg != nullptr && leg->pose && place(ix, *leg->pose)) return true;
    }
    return false;
  }

  /// Asks the core to take the cart at that pose and, if it does, sets the body there.
  bool place(CartIx ix, PoseIx pose) {
    const floor::Ways& ways = track_.ways();
    const bool taken = feed(
        control::AskPlaceCart{ours, ix, floor_[ways[pose].at].id, floor_[ways.came_from(pose)].id});
    if (!taken) return false;
    carts_[ix.value].set_on(now_, pose);
    collect(ix);
    return true;
  }

  void place_all() {
    const std::vector<PoseIx> places = start_places(track_);
    auto next = places.begin();
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      feed(carts_[i].greeting(now_));
      bool placed = false;
      while (!placed && next != places.end()) placed = place({i}, *next++);
      if (!placed) {
        throw TooManyCarts("only " + std::to_string(i) + " of " + std::to_string(carts_.size()) +
                           " carts find a place on this floor from which they can come to rest");
      }
      referee_.enter(i, now_);
    }
  }

  // ---- the referee and the books --------------------------------------------------------------

  SeenMotion seen(std::size_t body, double now) const {
    const FleetCart& cart = carts_[body];
    SeenMotion s;
    s.body = cart.body(now);
    s.still = cart.still();
    s.speed = cart.top_speed();
    if (cart.turning()) {
      s.reader = s.body.centre;
      s.swing = cart.swing_speed();
      return s;
    }
    const double to_nose = static_cast<double>(floor_.cart.reader_to_nose.value);
    const double ahead = s.body.length / 2 - to_nose;
    s.reader = {s.body.centre.x + s.body.along.x * ahead, s.body.centre.y + s.body.along.y * ahead};
    if (s.still) return s;
    const double x = cart.reader(now);
    const auto [low, high] = cart.walk().straight(x);
    const double way = cart.backing() ? -1 : 1;
    s.straight_s =
        (cart.backing() ? x - low : high - x) / static_cast<double>(floor_.cart.speed.value);
    s.going = {s.body.along.x * way, s.body.along.y * way};
    if (s.straight_s <= 0) {
      const double to_tail = std::max(1.0, s.body.length - to_nose);
      s.chord = std::max(1.0, floor::distance(s.reader, cart.walk().spot(x - to_tail).at));
    }
    return s;
  }

  void look() {
    referee_.look(now_);
    if (referee_.contacts().empty()) return;
    const ClosingReferee::Contact& contact = referee_.contacts().front();
    char text[200];
    std::snprintf(text, sizeof text, "%s at (%.0f, %.0f) and %s at (%.0f, %.0f) touched at %.2f s",
                  core_.cart_name({static_cast<std::uint32_t>(contact.a)}).c_str(),
                  contact.first.body.centre.x, contact.first.body.centre.y,
                  core_.cart_name({static_cast<std::uint32_t>(contact.b)}).c_str(),
                  contact.second.body.centre.x, contact.second.body.centre.y, contact.at);
    std::string what = text;
    const auto books = audit_books(track_, core_, carts_, now_);
    result_.held_conflicts += books.size();
    for (const std::string& line : books) what += "; " + line;
    throw Broken{what};
  }

  void audit() {
    const auto books = audit_books(track_, core_, carts_, now_);
    if (books.empty()) return;
    result_.held_conflicts += books.size();
    char text[40];
    std::snprintf(text, sizeof text, "at %.2f s ", now_);
    throw Broken{text + books.front()};
  }

  [[nodiscard]] bool excused(std::size_t i) const {
    const FleetCart& cart = carts_[i];
    return cart.blocked(now_) || !links_[i].up || cart.stopped() || care_[i].called ||
           cart.fault() != control::Fault::none;
  }

  void watch_for_gridlock() {
    bool busy = false;
    bool unfinished = open_ > 0;
    for (std::size_t i = 0; i < carts_.size() && !busy; ++i) {
      busy = !carts_[i].still() || carts_[i].handling() || excused(i);
      unfinished = unfinished || carts_[i].waits();
    }
    if (!busy && unfinished && now_ - active_ > figures::gridlock_s) {
      for (std::uint32_t i = 0; i < carts_.size() && !busy; ++i) {
        busy = core_.cart({i}).mode == CartMode::charging;
      }
      if (!busy) {
        ++result_.gridlocks;
        busy = true;  // the next one is counted only after another such time
      }
    }
    if (busy || !unfinished) active_ = now_;
  }

  // ---- waits and accounts ---------------------------------------------------------------------

  void follow_wait(CartIx ix) {
    const FleetCart& cart = carts_[ix.value];
    Wait& wait = wait_[ix.value];
    const bool waits = cart.waits();
    if (waits == wait.waits) return;
    if (waits) {
      wait = {true, now_, {}};
      return;
    }
    end_wait(wait);
  }

  void end_wait(Wait& wait) {
    const double lasted = now_ - wait.since;
    result_.longest_wait_s = std::max(result_.longest_wait_s, lasted);
    if (wait.merge) merges_.add(*wait.merge, lasted);
    wait = {};
  }

  /// Which merge a standing cart waits for, once the core has found out.
  void note_merge(CartIx ix) {
    Wait& wait = wait_[ix.value];
    if (wait.merge) return;
    const auto waits_for = core_.cart(ix).waits_for;
    if (waits_for) wait.merge = merges_.of(waits_for->piece);
  }

  void finish() {
    FleetRunResult& r = result_;
    count_open(0);
    open_ += 1;  // count_open(0) takes one off
    r.simulated_s = now_;
    r.jobs_open = open_;
    r.jobs_open_mean = now_ > 0 ? open_area_ / now_ : 0;
    r.deliveries_per_hour = now_ > 0 ? static_cast<double>(r.deliveries) * 3600 / now_ : 0;
    r.body_contacts = referee_.contacts().size();
    r.least_gap_mm = referee_.least_gap();
    r.looks = referee_.looks();
    std::array<double, spent_kinds> spent{};
    for (std::size_t i = 0; i < carts_.size(); ++i) {
      FleetCart& cart = carts_[i];
      cart.account(now_);
      r.distance_m += cart.driven_mm() / 1000;
      for (std::size_t k = 0; k < spent_kinds; ++k) spent[k] += cart.spent(static_cast<Spent>(k));
      // Where idle carts move on, one without a job has nowhere to be: it waits until it is in
      // somebody's way.
      const bool wants = !core_.live_limit().moving_on(carts_.size()) ||
                         core_.cart({static_cast<std::uint32_t>(i)}).job;
      const bool stuck =
          wants && cart.waits() && !excused(i) && now_ - cart.stood_since() > figures::stuck_s;
      if (stuck) ++r.stuck_carts;
      if (wait_[i].waits) end_wait(wait_[i]);
    }
    const double all = std::accumulate(spent.begin(), spent.end(), 0.0);
    if (all > 0) {
      r.share = {spent[0] / all, spent[1] / all, spent[2] / all,
                 spent[3] / all, spent[4] / all, spent[5] / all};
    }
    if (!lead_times_.empty()) {
      std::ranges::sort(lead_times_);
      const auto rank = [&](double part) {  // nearest rank
        const auto n = static_cast<double>(lead_times_.size());
        return lead_times_[static_cast<std::size_t>(std::max(1.0, std::ceil(part * n))) - 1];
      };
      const double sum = std::accumulate(lead_times_.begin(), lead_times_.end(), 0.0);
      r.lead_time_s = {sum / static_cast<double>(lead_times_.size()), rank(0.5), rank(0.95),
                       lead_times_.back()};
    }
    r.merges = merges_.waits();
  }

  const floor::Track& track_;
  const floor::Floor& floor_;
  FleetRunOptions options_;
  const EventTap& tap_;
  TapeTable tapes_;
  JobSource jobs_;
  Random mishaps_;
  MergeTable merges_;
  std::vector<FleetCart> carts_;
  ClosingReferee referee_;
  control::Core core_;
  std::vector<Link> links_;
  std::vector<Care> care_;
  std::vector<double> due_;
  std::vector<Wait> wait_;
  bool several_stations_{false};
  double demand_per_hour_{0};

  double now_{0};
  std::uint64_t order_{0};
  std::priority_queue<Due, std::vector<Due>, std::greater<>> queue_;
  // Every message takes the same time, so these are in the order of their dues.
  std::deque<ToService> to_service_;
  std::deque<ToCart> to_cart_;

  std::vector<JobTrack> job_tracks_;
  std::size_t queued_{0};
  std::uint64_t open_{0};
  double open_area_{0}, open_since_{0};
  std::vector<double> lead_times_;
  double active_{0};
  FleetRunResult result_;
};

}  // namespace

std::vector<std::string> run_cart_names(std::size_t carts) {
  std::vector<std::string> names;
  names.reserve(carts);
  for (std::size_t i = 1; i <= carts; ++i) names.push_back("cart-" + std::to_string(i));
  return names;
}

FleetRunResult run_fleet(const floor::Track& track, const FleetRunOptions& options,
                         const RunProgress& progress, const EventTap& tap) {
  if (track.ways().pose_count() == 0) throw TooManyCarts("the floor has no tape");
  FleetRun run(track, options, tap);
  return run.run(progress);
}

}  // namespace tagline::sim
