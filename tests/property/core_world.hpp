// The core with carts round it, as one state that can be copied and gone on from in every way: what
// can happen next is listed, and what happened is checked. Carts are reduced to what matters for
// order; they obey the messages and nothing else. Time stands still except when "a long while"
// passes. Where bodies may be is worked out from the carts' own truth and the floor's tables.
#pragma once

#include <algorithm>
#include <map>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "server/control/core.hpp"
#include "tests/property/happenings.hpp"

namespace tagline::test {

class World {
 public:
  /// `truth`: the tables that bodies are checked with; the core is given `track`.
  World(const floor::Track& track, const floor::Track& truth, const WorldPlan& plan)
      : track_(&track), truth_(&truth), plan_(&plan), bodies_(plan.carts) {
    for (std::size_t i = 0; i < plan.carts; ++i) names_.push_back("cart-" + std::to_string(i + 1));
    start_service();
    const std::vector<PoseIx> places = start_places();
    for (std::uint32_t i = 0; i < plan.carts; ++i) {
      bodies_[i].pose = places[i];
      greet({i});
      send(control::AskPlaceCart{1, {i}, point(places[i]).id, came_from(places[i])});
      if (refused_) throw std::runtime_error("a cart could not be placed on " + floor().name);
    }
    while (asked_ < std::min(plan.asked, plan.jobs.size())) ask();
  }
  World(const World& other)
      : track_(other.track_),
        truth_(other.truth_),
        plan_(other.plan_),
        names_(other.names_),
        bodies_(other.bodies_),
        core_(other.core_->copy()),
        now_(other.now_),
        asked_(other.asked_),
        all_stopped_(other.all_stopped_),
        jobs_(other.jobs_),
        paths_(other.paths_),
        carts_(other.carts_),
        delivered_(other.delivered_),
        trouble_(other.trouble_) {}
  World& operator=(const World&) = delete;

  [[nodiscard]] const control::Core& core() const { return *core_; }

  /// All that can happen next.
  [[nodiscard]] std::vector<Happening> next() const {
    std::vector<Happening> all;
    const bool quiet = in_force() < plan_->disturbances;
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      const Body& body = bodies_[i];
      const bool connected = body.connected;
      if (can_drive(body)) all.push_back({Act::drive, {i}});
      if (can_handle(body)) all.push_back({Act::handle, {i}});
      if (body.blocked) all.push_back({Act::unblock, {i}});
      if (body.stopped_here) all.push_back({Act::release_here, {i}});
      if (body.stopped_there && connected) all.push_back({Act::release_there, {i}});
      if (!connected) all.push_back({Act::greet, {i}});
      if (!quiet) continue;
      if (!body.blocked && body.at + 1 < body.points.size()) all.push_back({Act::block, {i}});
      if (!body.stopped_here) all.push_back({Act::stop_here, {i}});
      if (!body.stopped_there && !all_stopped_) all.push_back({Act::stop_there, {i}});
      if (connected) all.push_back({Act::drop, {i}});
    }
    all.push_back({Act::long_while, {}});
    if (asked_ < plan_->jobs.size()) all.push_back({Act::ask, {}});
    if (all_stopped_) all.push_back({Act::release_all, {}});
    if (quiet && !all_stopped_) all.push_back({Act::stop_all, {}});
    if (plan_->restarts && in_force() == 0) all.push_back({Act::restart, {}});
    return all;
  }

  /// Throws std::logic_error if the core finds an invariant broken.
  void happen(Happening what) {
    trouble_.clear();
    Body& body = bodies_[what.cart.value];
    switch (what.act) {
      case Act::drive:
        drive(what.cart);
        break;
      case Act::handle:
        handle(what.cart);
        break;
      case Act::long_while:
        now_ += std::chrono::seconds{20};
        send(control::Tick{});
        break;
      case Act::ask:
        ask();
        break;
      case Act::block:
      case Act::unblock:
        body.blocked = what.act == Act::block;
        report(what.cart);
        break;
      case Act::stop_here:
        body.stopped_here = true;
        if (body.connected && plan_->sabotage != Sabotage::stop_unheard) {
          send(control::CartStopped{what.cart, control::StopCause::button});
        }
        break;
      case Act::release_here:
        body.stopped_here = false;
        if (body.connected) send(control::CartReleased{what.cart});
        break;
      case Act::stop_there:
        body.stopped_there = true;
        send(control::AskStopCart{1, what.cart});
        break;
      case Act::release_there:
        body.stopped_there = false;
        send(control::AskReleaseCart{1, what.cart});
        // Refused while it is stopped at the cart as well, or not confirmed after a restart yet.
        if (refused_) body.stopped_there = true;
        break;
      case Act::greet:
        greet(what.cart);
        break;
      case Act::drop:
        body.connected = false;
        send(control::CartLinkLost{what.cart});
        break;
      case Act::stop_all:
        all_stopped_ = true;
        send(control::AskStopAll{1});
        break;
      case Act::release_all:
        send(control::AskReleaseAll{1});
        if (!refused_) all_stopped_ = false;
        break;
      case Act::restart:
        for (Body& b : bodies_) b.connected = false;
        start_service();
        break;
    }
  }

  // ---- what must be true

  /// Two bodies could touch now: each is somewhere from the tag it passed to the next one.
  [[nodiscard]] bool contact() const { return touching(1); }
  /// The same wherever they may get to with the authority they have, link or no link.
  [[nodiscard]] bool overlap() const { return touching(1000); }
  /// A cart has track in its own table that the core doesn't hold for it.
  [[nodiscard]] bool unheld() const {
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      const auto held = core_->cart({i}).holds;
      for (const PoseIx pose : reach(bodies_[i], 1000)) {
        for (const PieceIx piece : track_->cover(pose)) {
          if (!std::ranges::binary_search(held, piece)) return true;
        }
      }
    }
    return false;
  }
  /// What went against the rules in the last happening; "" if nothing.
  [[nodiscard]] const std::string& trouble() const { return trouble_; }

  /// Nothing is in force that a person or a link has to end.
  [[nodiscard]] std::size_t in_force() const {
    std::size_t count = all_stopped_ ? 1 : 0;
    for (const Body& body : bodies_) {
      count += (body.connected ? 0 : 1) + (body.blocked ? 1 : 0) + (body.stopped_here ? 1 : 0) +
               (body.stopped_there ? 1 : 0);
    }
    return count;
  }
  /// All jobs asked and delivered, each once, and every cart at rest with nothing on.
  [[nodiscard]] bool done() const {
    if (asked_ < plan_->jobs.size() || in_force() > 0) return false;
    for (std::uint64_t id = 1; id <= asked_; ++id) {
      const control::Job* job = core_->job({id});
      if (job == nullptr || job->state != control::JobState::delivered) return false;
      if (delivered_[id - 1] != 1) return false;
    }
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      if (core_->cart({i}).path.size() != 1 || bodies_[i].loaded) return false;
    }
    return true;
  }

  [[nodiscard]] std::string fingerprint() const {
    std::string text = core_->fingerprint();
    const auto add = [&](std::size_t value) { text.push_back(static_cast<char>(value)); };
    add(asked_);
    add(all_stopped_ ? 1 : 0);
    for (const std::uint8_t count : delivered_) add(count);
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      const Body& body = bodies_[i];
      add((body.connected ? 1U : 0U) | (body.told_stop ? 2U : 0U) | (body.stopped_here ? 4U : 0U) |
          (body.stopped_there ? 8U : 0U) | (body.blocked ? 16U : 0U) | (body.loaded ? 32U : 0U) |
          (body.pending ? 64U : 0U) | (handled_here(body) ? 128U : 0U));
      const auto path = core_->cart({i}).path;
      add(body.pose.value);
      add(body.points.size() - body.at);
      if (body.points.empty()) continue;
      add(static_cast<std::size_t>(body.points.back().act));
      // Where the core believes it is, as seen from where it is.
      add(path.empty() ? 255 : static_cast<std::size_t>(body.points[body.at].step - path[0].step));
    }
    return text;
  }

  [[nodiscard]] std::string describe() const {
    std::string text = floor().name + ":";
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      const auto view = core_->cart({i});
      text += "\n  " + names_[i] + " " + std::string(control::name_of(view.mode)) + " " +
              view.trouble + " really at " + point(bodies_[i].pose).id + ", path";
      for (std::size_t s = 0; s < view.path.size(); ++s) {
        text += " " + point(view.path[s].pose).id;
        if (view.path[s].act == control::Act::load) text += "(load)";
        if (view.path[s].act == control::Act::unload) text += "(unload)";
        if (s == view.authority) text += "|";
      }
      if (view.waits_for) text += " waits for " + track_->name(view.waits_for->piece);
    }
    for (const control::Job* job : core_->jobs()) {
      text += "\n  job " + std::to_string(job->id.value) + " " +
              std::string(control::name_of(job->state)) + " " +
              (core_->why(job->id).empty()
                   ? std::string()
                   : std::string(control::name_of(core_->why(job->id)[0].kind)));
    }
    return text;
  }

 private:
  struct Body {
    bool connected{false};
    bool told_stop{true};       // by the service
    bool stopped_here{false};   // by its own button
    bool stopped_there{false};  // a supervisor's stop is in force
    bool blocked{false};
    bool loaded{false};
    PoseIx pose;  // the last tag it really passed
    std::uint64_t trip{};
    std::vector<control::ToldPoint> points;
    std::vector<PoseIx> poses;  // of `points` from `at` on; before that meaningless
    std::size_t at{};           // where it is, as an index of `points`
    std::pair<std::uint64_t, control::Step> handled;  // in which trip, and where
    std::optional<control::CartHandled> pending;
  };

  [[nodiscard]] const floor::Floor& floor() const { return track_->floor(); }
  [[nodiscard]] const floor::Ways& ways() const { return track_->ways(); }
  [[nodiscard]] const floor::Point& point(PoseIx pose) const { return floor()[ways()[pose].at]; }
  [[nodiscard]] std::string came_from(PoseIx pose) const {
    return floor()[ways().came_from(pose)].id;
  }
  /// Sidings; on a floor without, the first places round the loop, one behind the other.
  [[nodiscard]] std::vector<PoseIx> start_places() const {
    std::vector<PoseIx> places;
    for (std::uint32_t p = 0; p < floor().points.size(); ++p) {
      if (floor().points[p].siding) places.push_back(ways().poses_at({p}).front());
    }
    if (places.empty()) {
      for (std::uint32_t p = 0; p < bodies_.size(); ++p) {
        places.push_back(ways().poses_at({p}).front());
      }
    }
    if (places.size() < bodies_.size()) throw std::runtime_error("too many carts");
    return places;
  }

  // ---- the carts

  [[nodiscard]] static bool may_go(const Body& body) {
    return !body.points.empty() && !body.told_stop && !body.stopped_here && !body.blocked;
  }
  [[nodiscard]] static bool can_drive(const Body& body) {
    return may_go(body) && body.at + 1 < body.points.size();
  }
  [[nodiscard]] static bool handled_here(const Body& body) {
    return !body.points.empty() && body.handled == std::pair{body.trip, body.points[body.at].step};
  }
  [[nodiscard]] static bool can_handle(const Body& body) {
    if (!may_go(body) || body.at + 1 != body.points.size() || handled_here(body)) return false;
    const control::ToldAct act = body.points[body.at].act;
    return act == control::ToldAct::load || act == control::ToldAct::unload;
  }

  void drive(CartIx cart) {
    Body& body = bodies_[cart.value];
    ++body.at;
    body.pose = body.poses[body.at];
    if (!body.connected) return;
    std::size_t said = body.at;
    if (plan_->sabotage == Sabotage::read_early && said + 1 < body.points.size()) ++said;
    send(control::CartReads{cart, point(body.poses[said]).tags.front(), body.points[said].step});
  }
  void handle(CartIx cart) {
    Body& body = bodies_[cart.value];
    const control::ToldPoint& here = body.points[body.at];
    body.handled = {body.trip, here.step};
    body.loaded = here.act == control::ToldAct::load;
    const control::CartHandled event{
        cart, here.step, body.loaded ? control::Handling::load : control::Handling::unload};
    if (body.connected) {
      send(event);
    } else {
      body.pending = event;
    }
  }
  void report(CartIx cart) {
    const Body& body = bodies_[cart.value];
    if (!body.connected) return;
    send(control::CartReports{
        .cart = cart,
        .battery = 90,
        .loaded = body.loaded,
        .moving = false,
        .fault = body.blocked ? control::Fault::blocked : control::Fault::none});
  }
  void greet(CartIx cart) {
    Body& body = bodies_[cart.value];
    body.connected = true;
    body.told_stop = false;  // the service says so again if it is
    const bool none = body.points.empty();
    const control::Step step = none ? 0 : body.points[body.at].step;
    const bool forgets = plan_->sabotage == Sabotage::forgets_authority;
    const auto pending = std::exchange(body.pending, std::nullopt);
    send(control::CartGreets{.cart = cart,
                             .last_tag = point(body.pose).tags.front(),
                             .step = step,
                             .until = none || forgets ? step : body.points.back().step,
                             .rebooted = none,
                             .loaded = body.loaded,
                             .battery = 90,
                             .stopped = body.stopped_here});
    if (pending) send(*pending);
    report(cart);  // a fault that came or went while the link was down
  }

  void take(const control::TellAuthority& told) {
    Body& body = bodies_[told.cart.value];
    if (body.stopped_here || body.stopped_there) {
      const control::Step end = body.points.empty() ? 0 : body.points.back().step;
      if (told.points.back().step > end && told.points.size() > 1) {
        trouble_ = "a stopped cart was given more authority (I7)";
      }
    }
    if (!body.points.empty() && told.points.back().step < body.points.back().step) {
      trouble_ = "an authority was cut back";
      return;  // it may be past there already
    }
    std::vector<control::ToldPoint> points = told.points;
    std::size_t at = 0;
    if (!body.points.empty()) {
      const control::Step step = body.points[body.at].step;
      while (at < points.size() && points[at].step != step) ++at;
      if (at == points.size()) {
        if (plan_->sabotage != Sabotage::read_early) {
          trouble_ = "an authority leaves out where the cart is";
          return;
        }
        // It isn't where it said that it is; it goes there first.
        at = 0;
        const auto here = body.points.begin() + static_cast<std::ptrdiff_t>(body.at);
        points.insert(points.begin(), here,
                      std::ranges::find(here, body.points.end(), points.front().step,
                                        &control::ToldPoint::step));
      }
    }
    body.trip = told.trip;
    body.points = std::move(points);
    body.at = at;
    body.poses.assign(body.points.size(), body.pose);
    for (std::size_t i = at + 1; i < body.points.size(); ++i) {
      const bool turn = body.points[i - 1].act == control::ToldAct::turn;
      std::optional<PoseIx> to;
      for (const floor::Move& move : ways().moves_from(body.poses[i - 1])) {
        if (move.branch == body.points[i].branch && move.gear == body.points[i].gear &&
            move.turn_round == turn) {
          to = move.to;
        }
      }
      if (!to || ways()[*to].at != body.points[i].point) {
        trouble_ = "the branch told doesn't lead where it should";
        return;
      }
      body.poses[i] = *to;
    }
  }

  /// From where it is to `ahead` points farther, as far as its authority goes.
  [[nodiscard]] static std::vector<PoseIx> reach(const Body& body, std::size_t ahead) {
    std::vector<PoseIx> result{body.pose};
    for (std::size_t i = body.at + 1; i < body.points.size() && i <= body.at + ahead; ++i) {
      result.push_back(body.poses[i]);
    }
    return result;
  }
  [[nodiscard]] bool touching(std::size_t ahead) const {
    for (std::size_t a = 0; a < bodies_.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        for (const PoseIx x : reach(bodies_[a], ahead)) {
          for (const PoseIx y : reach(bodies_[b], ahead)) {
            if (truth_->clash(x, y)) return true;
          }
        }
      }
    }
    return false;
  }

  // ---- the service and its store

  void ask() {
    const auto& [from, to] = plan_->jobs[asked_++];
    delivered_.push_back(0);
    send(control::AskJob{.request = 1, .from = from, .to = to, .note = "", .key = ""});
    if (refused_) throw std::runtime_error("a job was refused on " + floor().name);
  }
  void start_service() {
    control::Restored restored;
    for (const auto& [id, job] : jobs_) restored.jobs.push_back(job);
    for (const auto& [cart, path] : paths_) restored.paths.push_back(path);
    for (const auto& [cart, record] : carts_) restored.carts.push_back(record);
    restored.last_job = asked_;
    restored.fleet.all_stopped = all_stopped_;
    core_ = std::make_unique<control::Core>(*track_, names_, control::Policy{}, restored, now_);
  }
  void send(const control::Event& event) {
    const control::Outcome outcome = core_->handle(now_, event);
    core_->assert_nobody_forgotten();
    for (const control::Record& record : outcome.records) {
      if (const auto* job = std::get_if<control::JobRecord>(&record)) {
        const auto before = jobs_.find(job->job.id);
        const bool was = before != jobs_.end() && control::is_final(before->second.state);
        if (was && job->job.state != before->second.state) trouble_ = "an ended job went on (I6)";
        if (!was && job->job.state == control::JobState::delivered) {
          ++delivered_[job->job.id.value - 1];
        }
        jobs_.insert_or_assign(job->job.id, job->job);
      } else if (const auto* path = std::get_if<control::PathRecord>(&record)) {
        paths_[path->cart] = *path;
      } else if (const auto* cart = std::get_if<control::CartRecord>(&record)) {
        carts_[cart->cart] = *cart;
      }
    }
    for (const control::Trace& trace : outcome.trace) {
      // Reads move the start of the recorded path on, as the store does.
      if (const auto* read = std::get_if<control::ReadTrace>(&trace)) {
        auto& path = paths_[read->cart].path;
        const auto at = std::ranges::find(path, read->step, &control::PathStep::step);
        if (at != path.end()) path.erase(path.begin(), at);
      }
    }
    for (const control::Message& message : outcome.messages) {
      std::visit(
          [&](const auto& m) {
            Body& body = bodies_[m.cart.value];
            if (!body.connected) return;
            using M = std::decay_t<decltype(m)>;
            if constexpr (std::is_same_v<M, control::TellAuthority>) take(m);
            if constexpr (std::is_same_v<M, control::TellStop>) body.told_stop = true;
            if constexpr (std::is_same_v<M, control::TellRelease>) body.told_stop = false;
            if constexpr (std::is_same_v<M, control::TellReset>) {
              body.points.clear();
              body.poses.clear();
              body.at = 0;
              body.told_stop = false;
            }
          },
          message);
    }
    refused_ = std::ranges::any_of(outcome.answers, [](const control::Answer& answer) {
      return std::holds_alternative<control::Refusal>(answer.what);
    });
  }

  const floor::Track* track_;
  const floor::Track* truth_;
  const WorldPlan* plan_;
  std::vector<std::string> names_;
  std::vector<Body> bodies_;
  std::unique_ptr<control::Core> core_;
  Instant now_{std::chrono::seconds{1'800'000'000}};
  std::size_t asked_{0};
  bool all_stopped_{false};
  bool refused_{false};
  std::map<control::JobId, control::Job> jobs_;
  std::map<CartIx, control::PathRecord> paths_;
  std::map<CartIx, control::CartRecord> carts_;
  std::vector<std::uint8_t> delivered_;
  std::string trouble_;
};

}  // namespace tagline::test
