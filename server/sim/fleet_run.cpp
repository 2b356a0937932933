// The event loop of a fast run: takes what is due next and hands it to whom it concerns. See
// fleet_run.hpp.
#include "server/sim/fleet_run.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "server/sim/fleet_accounts.hpp"
#include "server/sim/fleet_closings.hpp"
#include "server/sim/fleet_figures.hpp"
#include "server/sim/fleet_links.hpp"
#include "server/sim/fleet_mishaps.hpp"
#include "server/sim/fleet_people.hpp"
#include "server/sim/fleet_watch.hpp"
#include "server/sim/start_places.hpp"

namespace tagline::sim {
namespace {

using What = FleetAgenda::What;

constexpr double never = FleetAgenda::never;

Random stream(std::uint64_t seed, std::uint64_t number) {
  Random mixed{seed * 0x9E3779B97F4A7C15ULL + number};
  return Random{mixed.next()};
}

std::vector<FleetCart> make_carts(const TapeTable& tapes, const FleetRunOptions& options) {
  const CartNature nature{options.speed_noise, options.miss_rate,
                          !tapes.ways().floor().chargers.empty()};
  std::vector<FleetCart> carts;
  carts.reserve(options.carts);
  for (std::uint32_t i = 0; i < options.carts; ++i) {
    carts.emplace_back(CartIx{i}, tapes, PoseIx{0}, nature, stream(options.seed, 100 + i));
  }
  return carts;
}

bool has_shared_point(const floor::Floor& floor) {
  return std::ranges::any_of(floor.stations, [&](const floor::Station& station) {
    return std::ranges::count(floor.stations, station.point, &floor::Station::point) > 1;
  });
}

class FleetRun {
 public:
  FleetRun(const floor::Track& track, const FleetRunOptions& options, const EventTap& tap,
           const CartTap& carts)
      : track_{track},
        floor_{track.floor()},
        options_{options},
        tap_{tap},
        cart_tap_{carts},
        tapes_{track.ways()},
        several_stations_{has_shared_point(floor_)},
        jobs_{job_flows(floor_), stream(options.seed, 1)},
        mishaps_{stream(options.seed, 2), options.stalls_per_hour, options.drops_per_hour,
                 options.closings_per_hour},
        core_{track, run_cart_names(options.carts), control::Policy{}, control::Restored{},
              run_begins},
        carts_{make_carts(tapes_, options)},
        due_(options.carts, never),
        links_{options.carts, agenda_, mishaps_},
        accounts_{track, options.carts},
        people_{scene(),
                {.ask = [this](const control::Event& request) { return feed(request); },
                 .touched = [this](CartIx cart) { collect(cart); },
                 .lifted = [this](CartIx cart) { watch_.leave(cart); },
                 .set_down = [this](CartIx cart) { watch_.enter(cart); },
                 .done = [this] { keep_queue_full(); }}},
        closings_{scene(), mishaps_,
                  [this](const control::Event& request) { return feed(request); }},
        watch_{scene(), people_} {
    for (const floor::Demand& demand : floor_.demand) demand_per_hour_ += demand.per_hour;
  }
  FleetRun(const FleetRun&) = delete;
  FleetRun& operator=(const FleetRun&) = delete;

  FleetRunResult run(const RunProgress& progress) {
    try {
      place_all();
      start_streams();
      loop(progress);
    } catch (const FleetBroken& broken) {
      result_.broken = broken.what;
    }
    finish();
    return result_;
  }

 private:
  [[nodiscard]] FleetScene scene() { return {track_, core_, carts_, links_, agenda_}; }
  [[nodiscard]] double now() const { return agenda_.now(); }

  // ---- the loop -------------------------------------------------------------------------------

  void loop(const RunProgress& progress) {
    const double end = options_.hours * 3600;
    double told = 0;
    while (true) {
      const double next =
          std::min({agenda_.next(), watch_.due(), links_.to_service_due(), links_.to_cart_due()});
      if (next > end) break;
      agenda_.move_on_to(std::max(now(), next));
      if (watch_.due() <= now()) {
        watch_.look();
      } else if (links_.to_service_due() <= now()) {
        if (const auto sent = links_.take_to_service()) arrives(*sent);
      } else if (links_.to_cart_due() <= now()) {
        if (const auto sent = links_.take_to_cart()) deliver(*sent);
      } else {
        happens(agenda_.take());
      }
      if (progress && now() - told >= 60) {
        told = now();
        progress(now(), accounts_.deliveries());
      }
    }
    agenda_.move_on_to(end);
  }

  void happens(const FleetAgenda::Due& due) {
    const CartIx ix{due.cart};
    switch (due.what) {
      case What::cart:
        if (due_[due.cart] != due.at) return;
        due_[due.cart] = never;
        carts_[due.cart].wake(now());
        collect(ix);
        break;
      case What::tick:
        feed(control::Tick{});
        watch_.watch_for_gridlock(accounts_.open() > 0, closings_.lately(figures::gridlock_s));
        agenda_.at(now() + figures::tick_s, What::tick);
        break;
      case What::job:
        ask_job(jobs_.draw());
        agenda_.at(now() + jobs_.gap(rate()), What::job);
        break;
      case What::block:
        carts_[due.cart].block(now(), now() + mishaps_.stall_lasts());
        collect(ix);
        agenda_.at(mishaps_.next_stall(now()), What::block, due.cart);
        break;
      case What::drop:
        links_.lose(ix);
        break;
      case What::link_gone:
        if (links_.still_on(ix, due.epoch)) service_loses(ix);
        break;
      case What::link_back:
        links_.come_back(ix, carts_[due.cart].greeting(now()));
        break;
      case What::resend:
        if (!links_.still_on(ix, due.epoch)) return;
        links_.welcome(ix);
        carts_[due.cart].report(now());
        collect(ix);
        break;
      case What::report:
        carts_[due.cart].report(now());
        collect(ix);
        agenda_.at(now() + figures::report_every_s, What::report, due.cart);
        break;
      case What::visit:
        people_.visit(ix);
        break;
      case What::take_load:
        people_.take_load({due.cart});
        break;
      case What::closing:
        closings_.change();
        keep_queue_full();
        break;
      case What::audit:
        watch_.audit();
        closings_.audit();
        agenda_.at(now() + figures::audit_every_s, What::audit);
        break;
    }
  }

  void place_all() {
    const std::vector<PoseIx> places = start_places(track_);
    auto next = places.begin();
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      feed(carts_[i].greeting(now()));
      bool placed = false;
      while (!placed && next != places.end()) placed = people_.place({i}, *next++);
      if (!placed) {
        throw TooManyCarts("only " + std::to_string(i) + " of " + std::to_string(carts_.size()) +
                           " carts find a place on this floor from which they can come to rest");
      }
    }
  }

  void start_streams() {
    agenda_.at(now() + figures::tick_s, What::tick);
    agenda_.at(now() + figures::audit_every_s, What::audit);
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      // Spread, so that the reports don't all fall on one moment.
      agenda_.at(figures::report_every_s * (i + 1) / static_cast<double>(carts_.size()),
                 What::report, i);
      if (mishaps_.stalls()) agenda_.at(mishaps_.next_stall(now()), What::block, i);
      if (mishaps_.drops()) agenda_.at(mishaps_.next_drop(now()), What::drop, i);
    }
    closings_.begin();
    if (options_.jobs == FleetRunOptions::Jobs::saturate) {
      keep_queue_full();
    } else if (rate() > 0) {
      agenda_.at(now() + jobs_.gap(rate()), What::job);
    }
  }

  // ---- the core -------------------------------------------------------------------------------

  /// True if our own request, should it be one, was accepted.
  bool feed(const control::Event& event) {
    const Instant moment =
        run_begins + Duration{static_cast<std::int64_t>(std::floor(now() * 1000 + 1e-6))};
    if (tap_) tap_(moment, event);
    ++result_.events;
    control::Outcome outcome;
    try {
      if (std::holds_alternative<control::Tick>(event)) core_.assert_nobody_forgotten();
      outcome = core_.handle(moment, event);
    } catch (const std::exception& error) {
      throw FleetBroken{"the core broke an invariant: " + std::string(error.what())};
    }
    for (control::Message& message : outcome.messages) {
      if (std::holds_alternative<control::TellHold>(message)) continue;
      const CartIx cart = std::visit([](const auto& m) { return m.cart; }, message);
      links_.tell(cart, std::move(message));
    }
    for (const control::Record& record : outcome.records) {
      if (const auto* job = std::get_if<control::JobRecord>(&record)) {
        take_job(job->job);
      } else if (const auto* cart = std::get_if<control::CartRecord>(&record)) {
        if (!cart->doubt.empty() || cart->needs_release) {
          people_.call(cart->cart);
          closings_.excuse(cart->cart);
        }
      }
    }
    return std::ranges::any_of(outcome.answers, [](const control::Answer& answer) {
      return !std::holds_alternative<control::Refusal>(answer.what);
    });
  }

  void take_job(const control::Job& job) {
    if (accounts_.take(job, now()) && floor_[job.to].capacity) {
      agenda_.at(now() + figures::load_taken_s, What::take_load, job.to.value);
    }
  }

  // ---- jobs -----------------------------------------------------------------------------------

  [[nodiscard]] double rate() const {
    return options_.jobs == FleetRunOptions::Jobs::per_hour ? options_.jobs_per_hour
                                                            : demand_per_hour_;
  }

  bool ask_job(const JobFlow& flow) {
    const bool taken = feed(control::AskJob{.request = fleet_request,
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
    while (accounts_.queued() < wanted) {
      const std::size_t before = accounts_.queued();
      if (!ask_job(jobs_.deal())) return;
      if (accounts_.queued() < before) return;  // given away at once; the next event asks again
    }
  }

  // ---- between carts and the core -------------------------------------------------------------

  /// Sends what the cart has to say, and takes note of what changed.
  void collect(CartIx ix) {
    FleetCart& cart = carts_[ix.value];
    for (control::Event& event : cart.out()) links_.say(ix, std::move(event));
    cart.out().clear();
    if (cart.stirred()) watch_.stirred(ix);
    if (cart.due() != due_[ix.value]) {
      due_[ix.value] = cart.due();
      if (cart.due() < never) agenda_.at(cart.due(), What::cart, ix.value);
    }
    if (cart.fault() == control::Fault::battery || cart.fault() == control::Fault::overrun) {
      people_.call(ix);
    }
    accounts_.follow_wait(ix, cart.waits(), now());
    if (cart_tap_) cart_tap_(now(), ix, cart);
  }

  void arrives(const FleetLinks::ToService& sent) {
    if (std::holds_alternative<control::CartGreets>(sent.event)) {
      if (!links_.known_lost(sent.cart)) service_loses(sent.cart);
      links_.know_greeted(sent.cart, sent.epoch);
    }
    feed(sent.event);
    note_merge(sent.cart);
    keep_queue_full();
  }

  void deliver(const FleetLinks::ToCart& sent) {
    FleetCart& cart = carts_[sent.cart.value];
    if (several_stations_ && std::holds_alternative<control::TellAuthority>(sent.message)) {
      if (const auto job = core_.cart(sent.cart).job) {
        const control::Job& wanted = *core_.job(*job);
        cart.handle_at(cart.loaded() ? wanted.to : wanted.from);
      }
    }
    cart.receive(now(), sent.message);
    collect(sent.cart);
    note_merge(sent.cart);
  }

  void service_loses(CartIx ix) {
    links_.know_lost(ix);
    feed(control::CartLinkLost{ix});
    keep_queue_full();
  }

  /// Which merge a standing cart waits for, once the core has found out.
  void note_merge(CartIx ix) {
    if (!accounts_.wants_merge(ix)) return;
    if (const auto waits_for = core_.cart(ix).waits_for) {
      accounts_.waits_for(ix, waits_for->piece);
    }
  }

  // ---- the end --------------------------------------------------------------------------------

  void finish() {
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      if (watch_.stuck({i}, accounts_.waited({i}, now()))) ++result_.stuck_carts;
    }
    accounts_.close(carts_, now(), result_);
    result_.body_contacts = watch_.referee().contacts().size();
    result_.least_gap_mm = watch_.referee().least_gap();
    result_.looks = watch_.referee().looks();
    result_.held_conflicts = watch_.held_conflicts();
    result_.gridlocks = watch_.gridlocks();
    result_.helped = people_.helped();
  }

  const floor::Track& track_;
  const floor::Floor& floor_;
  FleetRunOptions options_;
  const EventTap& tap_;
  const CartTap& cart_tap_;
  TapeTable tapes_;
  bool several_stations_;
  double demand_per_hour_{0};
  JobSource jobs_;
  FleetMishaps mishaps_;
  FleetAgenda agenda_;
  control::Core core_;
  std::vector<FleetCart> carts_;
  /// When each cart is to be woken, as the agenda has it.
  std::vector<double> due_;
  FleetLinks links_;
  FleetAccounts accounts_;
  FleetPeople people_;
  FleetClosings closings_;
  FleetWatch watch_;
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
                         const RunProgress& progress, const EventTap& tap, const CartTap& carts) {
  if (track.ways().pose_count() == 0) throw TooManyCarts("the floor has no tape");
  FleetRun run(track, options, tap, carts);
  return run.run(progress);
}

}  // namespace tagline::sim
