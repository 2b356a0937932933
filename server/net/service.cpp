// Wiring of the live service, and its states: serving, store failed, stopping.
#include "server/net/service.hpp"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <csignal>
#include <iterator>
#include <mutex>
#include <random>
#include <span>

#include "server/figures/tally.hpp"
#include "server/net/access_admin.hpp"
#include "server/net/alarm_desk.hpp"
#include "server/net/api.hpp"
#include "server/net/board_model.hpp"
#include "server/net/doorkeeper.hpp"
#include "server/net/engine.hpp"
#include "server/net/figure_desk.hpp"
#include "server/net/fleet_desk.hpp"
#include "server/net/floor_desk.hpp"
#include "server/net/live_hub.hpp"
#include "server/net/past_desk.hpp"
#include "server/net/sign_in.hpp"
#include "server/net/static_files.hpp"
#include "server/net/subprotocol.hpp"
#include "server/net/survey_desk.hpp"

namespace tagline::net {
namespace {

using namespace std::chrono_literals;
using Steady = std::chrono::steady_clock;

/// Boards get at most this many changes a second; a person sees no more.
constexpr auto shortest_between_changes = 100ms;
constexpr auto time_every = 5s;
/// For clients to take their last answers and close frames when the service stops.
constexpr auto longest_farewell = 3s;

std::string new_run_id() {
  static constexpr std::string_view letters = "abcdefghijkmnpqrstuvwxyz23456789";
  std::random_device chance;
  std::string id;
  for (int k = 0; k < 8; ++k) id += letters[chance() % letters.size()];
  return id;
}

std::vector<std::string> names_of(const std::vector<KnownCart>& fleet) {
  std::vector<std::string> names;
  for (const KnownCart& cart : fleet) names.push_back(cart.id);
  return names;
}

/// For suspicious greetings to be looked at in time, and no sooner.
constexpr auto desk_tick = 100ms;

/// What a crash may lose of the sums for the figures.
constexpr auto sums_every = 10s;

/// For sessions and tokens to end in time.
constexpr auto book_tick = 1s;
/// Of a board's link; 4000 to 4999 are for private use (RFC 6455, 7.4.2).
constexpr std::uint16_t signed_out_code = 4401;

/// Versions of each link that are spoken here. A next one is added to them, and the old one taken
/// out only when no cart speaks it any more (protocol/README.md, "Versions").
constexpr std::array cart_versions{protocol::cart_subprotocol};
constexpr std::array live_versions{live_subprotocol};

Response wrong_subprotocol(std::span<const std::string_view> spoken) {
  std::string names;
  for (const std::string_view name : spoken)
    names += (names.empty() ? "" : ", ") + std::string(name);
  return problem(400, "wrong_subprotocol", "Another subprotocol is spoken here",
                 "Offer Sec-WebSocket-Protocol: " + names + ".");
}

std::optional<ResumeFrom> resume_from(const Target& target) {
  const auto run = target.parameter("run"), since = target.parameter("since");
  if (!run || !since) return std::nullopt;
  ResumeFrom from{*run, 0};
  const auto [end, error] =
      std::from_chars(since->data(), since->data() + since->size(), from.since);
  if (error != std::errc{} || end != since->data() + since->size()) return std::nullopt;
  return from;
}

}  // namespace

struct Service::Impl : Outbox, HttpHandler {
  explicit Impl(Setup chosen)
      : setup(std::move(chosen)),
        names(names_of(setup.fleet)),
        model(setup.track, names, setup.core.live_limit(), setup.clock.pace(), new_run_id(),
              setup.entrance.known.seen_alarms),
        files(setup.web),
        live(model, setup.clock,
             [this](std::function<void()> task) { setup.network.post(std::move(task)); }),
        engine(setup.core, setup.track.floor().stations.size(), setup.journal, setup.clock, *this,
               setup.decide),
        desk(setup.track.floor(), setup.fleet, engine),
        api({setup.track.floor(), names, model, engine, [this] { return health(); },
             [this](std::function<void()> task) { setup.network.post(std::move(task)); }}),
        alarm_desk({model, engine, setup.clock,
                    [this](std::function<void()> task) { setup.network.post(std::move(task)); },
                    [this] { publish_soon(); }}),
        figure_desk({setup.figures, setup.clock,
                     [this](std::function<void()> task) { setup.network.post(std::move(task)); }}),
        tally(setup.track, names.size()),
        registry({engine, setup.clock,
                  [this](std::function<void()> task) { setup.network.post(std::move(task)); },
                  [this] { live.close_left(signed_out_code, "signed out"); }},
                 setup.entrance),
        doorkeeper(registry.book, setup.clock, setup.entrance.open_door),
        sign_in(registry, doorkeeper, setup.entrance.setup_code),
        access_admin(registry, sign_in, setup.track.floor()),
        floor_desk({setup.floor_office, model, [this] { return time_text(setup.clock.now()); },
                    [this](std::function<void()> task) { setup.network.post(std::move(task)); },
                    [this] { begin_anew(); }}),
        fleet_desk({setup.fleet_office, names, model, desk,
                    [this](std::function<void()> task) { setup.network.post(std::move(task)); },
                    [this] { begin_anew(); }}),
        survey(names, setup.clock),
        past(setup.past,
             [this](std::function<void()> task) { setup.network.post(std::move(task)); }) {
    desk.tell(survey.listener());
  }

  // ---- Outbox: on any thread; hands over to the network thread ----
  void release(Release one) override {
    bool first = false;
    {
      const std::lock_guard lock(mutex);
      first = released.empty();
      released.push_back(std::move(one));
    }
    if (first) setup.network.post([this] { take_released(); });
  }

  void store_failed(const std::string& why) override {
    spdlog::critical(
        "storing failed: {}. No job or command is taken and no cart gets more track; make room or "
        "repair the disk, then start the service again.",
        why);
    setup.network.post([this] {
      store_ok = false;
      api.fail_waiting(net::store_failed());
      desk.close_all(protocol::CloseCode::shutting_down, "the service can't store anything");
    });
  }

  void core_failed(const std::string& why) override {
    spdlog::critical(
        "a rule of the core was broken, which is a defect: {}. All carts are told to "
        "stop and the service ends.",
        why);
    setup.network.post([this] {
      end = End::core_failed;
      desk.stop_all("the dispatcher has failed");
      begin_stop();
    });
  }

  // ---- network thread ----
  /// What carts wait for goes out first, all of it; what people are shown follows.
  void take_released() {
    const bool first = to_show.empty();
    {
      const std::lock_guard lock(mutex);
      if (first) {
        to_show.swap(released);
      } else {
        std::ranges::move(released, std::back_inserter(to_show));
        released.clear();
      }
    }
    for (; delivered < to_show.size(); ++delivered) desk.deliver(to_show[delivered]);
    if (first && !to_show.empty()) setup.network.post([this] { show_released(); });
  }

  void show_released() {
    bool changed = false;
    delivered = 0;
    for (const Release& one : std::exchange(to_show, {})) {
      for (const CartShown& shown : one.views.carts) tally.see(one.at, shown.cart);
      survey.see(one.views);
      changed = model.apply(one.views) || changed;
      api.deliver(one);
    }
    if (!changed) return;
    alarm_desk.tidy();
    publish_soon();
  }

  void publish_soon() {
    if (publish_planned) return;
    const auto since = Steady::now() - published;
    if (since >= shortest_between_changes) return publish();
    publish_planned = true;
    setup.network.after(
        std::chrono::duration_cast<std::chrono::milliseconds>(shortest_between_changes - since) +
            1ms,
        [this] { publish(); });
  }

  void publish() {
    publish_planned = false;
    published = Steady::now();
    live.publish();
  }

  [[nodiscard]] std::string_view status() const {
    return stopping ? "stopping" : store_ok ? "ok" : "store_failed";
  }

  /// For whoever isn't signed in: a watchdog, say.
  [[nodiscard]] Response short_health() const {
    return json_response(status() == "ok" ? 200 : 503, "{\"status\":" + json_quote(status()) + "}");
  }

  Response health() const {
    const auto up = std::chrono::duration_cast<std::chrono::seconds>(setup.clock.up()).count();
    return json_response(
        status() == "ok" ? 200 : 503,
        "{\"status\":" + json_quote(status()) + ",\"version\":" + json_quote(setup.version) +
            ",\"floor\":" + json_quote(setup.track.floor().name) + ",\"pace\":" +
            std::to_string(setup.clock.pace()) + ",\"run\":" + json_quote(model.run()) +
            ",\"uptime_s\":" + std::to_string(up) + ",\"carts\":" + std::to_string(names.size()) +
            ",\"carts_connected\":" + std::to_string(model.connected_carts()) +
            ",\"all_stopped\":" + (model.all_stopped() ? "true" : "false") + "}");
  }

  std::optional<Response> refuse_to_come_in(const Request& request, bool cart_link) const {
    if (auto refusal = refuse_at_door(request, setup.host_names)) return refusal;
    if (!setup.entrance.tls) return std::nullopt;
    return refuse_in_the_clear(request, cart_link, setup.entrance.plain_carts);
  }

  void on_request(const Request& sent, Respond respond) override {
    Request request = sent;
    see_through_proxy(request, setup.entrance.proxies);
    if (auto refusal = refuse_to_come_in(request, false)) return respond(*refusal);
    const auto target = parse_target(request.target);
    if (!target)
      return respond(problem(400, "malformed_path", "The path can't be read",
                             "Percent-encode it as UTF-8 without control characters."));
    const auto& pieces = target->pieces;
    const bool reads = request.method == "GET" || request.method == "HEAD";
    const bool asks_health = pieces.size() == 2 && pieces[0] == "api" && pieces[1] == "health";
    if (stopping && !asks_health) return respond(net::stopping());
    auto decided = doorkeeper.admit(request, request.method, pieces, files.has(pieces));
    if (auto* refusal = std::get_if<Doorkeeper::Refusal>(&decided)) {
      if (refusal->visitor && refusal->route && !refusal->route->what.empty() && !reads)
        registry.note(refusal->visitor->name, refusal->route->what, about_of(pieces), request,
                      refusal->response);
      return respond(std::move(refusal->response));
    }
    const auto& [visitor, route] = std::get<Doorkeeper::Admitted>(decided);
    if (!store_ok && !reads) return respond(net::store_failed());
    if (visitor && !reads && route->action && !route->what.empty())
      respond = noted(request, *visitor, *route, about_of(pieces), std::move(respond));
    if (asks_health && !visitor) return respond(short_health());
    if (pieces.size() > 1 && pieces[0] == "api")
      return answer(request, *target, visitor, std::move(respond));
    if (pieces.size() == 1 && (pieces[0] == "cart" || pieces[0] == "live")) {
      Response response =
          problem(426, "websocket_only", "This is a WebSocket", "Ask for an upgrade (RFC 6455).");
      response.headers.emplace_back("Upgrade", "websocket");
      return respond(std::move(response));
    }
    if (auto file = files.find(pieces, request)) return respond(std::move(*file));
    respond(not_found("The board is at /, the interface under /api."));
  }

  /// Whoever is nobody has been let in here only where that doesn't matter.
  void answer(const Request& request, const Target& target, const std::optional<Visitor>& visitor,
              Respond respond) {
    const std::string& what = target.pieces[1];
    if (what == "me") return sign_in.me(visitor, respond);
    if (what == "setup") return sign_in.set_up(request, respond);
    if (what == "sign-in") return sign_in.sign_in(request, respond);
    if (what == "sign-out") return sign_in.sign_out(request, *visitor, std::move(respond));
    if (what == "accounts")
      return access_admin.accounts(request, target, *visitor, std::move(respond));
    if (what == "tokens") return access_admin.tokens(request, target, std::move(respond));
    if (what == "alarms" && target.pieces.size() == 4)
      return alarm_desk.see(request, target, *visitor, std::move(respond));
    if (what == "fleet") return fleet_desk.handle(request, target, *visitor, std::move(respond));
    if (what == "figures") return figure_desk.figures(request, target, std::move(respond));
    if (what == "audit") return access_admin.audit(target, respond);
    if (what == "past") return past.handle(request, target, std::move(respond));
    if (what == "call") {
      // A button that is stuck must not fill the queue.
      if (const auto wait = registry.attempts.begin(
              {request.address, "?call", access::hex(visitor->key.bytes)}, Steady::now()))
        return respond(Registry::too_often(*wait));
      return api.call(request, std::get<access::Call>(visitor->scope), visitor->name,
                      std::move(respond));
    }
    if (what == "floor" && target.pieces.size() > 2 && target.pieces[2] == "survey")
      return survey.handle(request, target, *visitor, respond);
    if (what == "floor" && target.pieces.size() > 2)
      return floor_desk.handle(request, target, *visitor, std::move(respond));
    api.handle(request, target, std::move(respond));
  }

  /// Only who may draw the floor sends as much as a whole one.
  std::optional<std::size_t> most_body(const Request& sent) override {
    if (!sent.target.starts_with("/api/floor/")) return std::nullopt;
    Request head = sent;
    see_through_proxy(head, setup.entrance.proxies);
    const auto target = parse_target(head.target);
    if (!target || stopping || refuse_at_door(head, setup.host_names)) return std::nullopt;
    const auto decided = doorkeeper.admit(head, head.method, target->pieces, false);
    const auto* admitted = std::get_if<Doorkeeper::Admitted>(&decided);
    const bool draws = admitted && admitted->visitor && admitted->route &&
                       admitted->route->action == access::Action::draw_floor;
    return draws ? std::optional(FloorDesk::most_bytes) : std::nullopt;
  }

  void begin_anew() {
    if (stopping) return;
    spdlog::info("starting anew to take up what was changed");
    end = End::begin_anew;
    begin_stop();
  }

  /// Answers, and puts what came of it into the audit log.
  Respond noted(const Request& request, const Visitor& visitor, const Route& route,
                std::string about, Respond respond) {
    return [this, request, who = visitor.name, &route, about = std::move(about),
            respond = std::move(respond)](Response response) {
      registry.note(who, route.what, about, request, response);
      respond(std::move(response));
    };
  }

  std::variant<Upgrade, Response> on_upgrade(const Request& sent,
                                             const std::vector<std::string>& offered) override {
    Request request = sent;
    see_through_proxy(request, setup.entrance.proxies);
    const auto target = parse_target(request.target);
    const bool cart_link = target && target->pieces == std::vector<std::string>{"cart"};
    if (auto refusal = refuse_to_come_in(request, cart_link)) return *refusal;
    if (!target) return not_found("WebSockets are at /cart for carts and at /live for boards.");
    if (stopping) return net::stopping();
    auto decided = doorkeeper.admit(request, "SOCKET", target->pieces, false);
    if (auto* refusal = std::get_if<Doorkeeper::Refusal>(&decided)) return refusal->response;
    const auto& [visitor, route] = std::get<Doorkeeper::Admitted>(decided);
    if (route->path == "/live") {
      if (!choose_subprotocol(offered, live_versions)) return wrong_subprotocol(live_versions);
      return Upgrade{live.new_peer(resume_from(*target),
                                   [this, who = *visitor] { return doorkeeper.may_stay(who); }),
                     LiveHub::rules()};
    }
    if (!store_ok) return net::store_failed();
    const auto version = choose_subprotocol(offered, cart_versions);
    if (!version) return wrong_subprotocol(cart_versions);
    return Upgrade{desk.new_peer(request.address), CartDesk::rules(*version, setup.clock.pace())};
  }

  /// Nothing new comes in; what was taken in is decided, stored and answered; then links close.
  void begin_stop() {
    if (stopping) return;
    stopping = true;
    past.stop();
    setup.network.stop_listening();
    floor_desk.give_up();
    engine.stop();  // its last releases are posted before the next task
    setup.network.post([this] {
      take_released();
      show_released();
      engine.keep_sums(tally.take(setup.clock.now()));
      live.publish();
      api.fail_waiting(net::stopping());
      desk.close_all(protocol::CloseCode::shutting_down, "the service is stopping");
      live.close_all(1001, "the service is stopping");
      setup.network.finish_requests();
      farewell_until = Steady::now() + longest_farewell;
      setup.network.every(20ms, [this] {
        if (setup.network.quiet() || Steady::now() > farewell_until) setup.network.stop();
      });
    });
  }

  void end_on_signals() {
    setup.network.on_signal([this](int signal) {
      spdlog::info("stopping ({})", signal == SIGINT ? "SIGINT" : "SIGTERM");
      begin_stop();
    });
  }

  End run() {
    setup.network.every(time_every, [this] { live.send_time(); });
    desk.tick(Steady::now());
    setup.network.every(book_tick, [this] {
      registry.book.tidy(registry.now());
      registry.commit_behind();
      alarm_desk.tidy();
      live.close_left(signed_out_code, "signed out");
    });
    setup.network.every(sums_every, [this] { engine.keep_sums(tally.take(setup.clock.now())); });
    setup.network.every(desk_tick, [this] { desk.tick(Steady::now()); });
    engine.start();
    setup.network.run(*this);
    engine.stop();
    return end;
  }

  Setup setup;
  std::vector<std::string> names;
  BoardModel model;
  StaticFiles files;
  LiveHub live;
  Engine engine;
  CartDesk desk;
  Api api;
  AlarmDesk alarm_desk;
  FigureDesk figure_desk;
  figures::Tally tally;
  Registry registry;
  Doorkeeper doorkeeper;
  SignIn sign_in;
  AccessAdmin access_admin;
  FloorDesk floor_desk;
  FleetDesk fleet_desk;
  SurveyDesk survey;
  PastDesk past;

  std::mutex mutex;
  std::vector<Release> released;  // under mutex

  // Network thread only.
  std::vector<Release> to_show;  // the first `delivered` of them have gone to the carts
  std::size_t delivered{0};
  bool store_ok{true};
  bool stopping{false};
  bool publish_planned{false};
  End end{End::stopped};
  Steady::time_point published{};
  Steady::time_point farewell_until{};
};

Service::Service(Setup setup) : impl_(std::make_unique<Impl>(std::move(setup))) {
  if (!impl_->files.has_page())
    spdlog::warn("there is no page in {}; build it with deploy/run build, or name it with --web",
                 impl_->setup.web.string());
}

Service::~Service() = default;

void Service::end_on_signals() { impl_->end_on_signals(); }

Service::End Service::run() { return impl_->run(); }

void Service::stop() {
  impl_->setup.network.post([this] { impl_->begin_stop(); });
}

}  // namespace tagline::net
