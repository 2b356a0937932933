// Carts reduced to what matters for order: a cart is at a point of its authority or between two of
// them, and what happens next is whatever the test picks. It obeys the wire messages and nothing
// else, keeps its own truth of where it is, and that truth is checked against the floor's tables
// after every move. The store is reduced to the records, so that a restart of the service can come
// between any two events.
#pragma once

#include <algorithm>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include "server/control/core.hpp"

namespace tagline::test {

class AbstractFleet {
 public:
  AbstractFleet(const floor::Track& track, std::size_t carts, std::uint32_t seed)
      : track_(track), ways_(track.ways()), floor_(track.floor()), bodies_(carts), random_(seed) {
    for (std::size_t i = 0; i < carts; ++i) names_.push_back("cart-" + std::to_string(i + 1));
    start_service();
    std::size_t next = 0;
    for (std::uint32_t p = 0; p < floor_.points.size() && next < carts; ++p) {
      if (!floor_.points[p].siding) continue;
      Body& body = bodies_[next];
      body.pose = ways_.poses_at({p}).front();
      body.last_tag = floor_.points[p].tags.front();
      greet({static_cast<std::uint32_t>(next)});
      act(control::AskPlaceCart{1,
                                {static_cast<std::uint32_t>(next)},
                                floor_.points[p].id,
                                floor_[ways_.came_from(body.pose)].id});
      if (!answered_well_) throw std::runtime_error("a cart could not be placed");
      ++next;
    }
    if (next < carts) throw std::runtime_error("more carts than sidings");
  }

  [[nodiscard]] const control::Core& core() const { return *core_; }
  std::mt19937& random() { return random_; }
  std::size_t pick(std::size_t n) {
    return std::uniform_int_distribution<std::size_t>(0, n - 1)(random_);
  }
  bool chance(double p) { return std::bernoulli_distribution(p)(random_); }
  [[nodiscard]] std::size_t carts() const { return bodies_.size(); }
  [[nodiscard]] bool connected(CartIx cart) const { return bodies_[cart.value].connected; }
  [[nodiscard]] bool stopped(CartIx cart) const { return bodies_[cart.value].stopped; }

  // ---- people
  void ask_job(const std::string& from, const std::string& to) {
    act(control::AskJob{.request = 1, .from = from, .to = to, .note = "", .key = ""});
  }
  void cancel(control::JobId job) { act(control::AskCancelJob{1, job}); }
  void press_stop(CartIx cart) {
    bodies_[cart.value].stopped_here = true;
    if (bodies_[cart.value].connected) {
      act(control::CartStopped{cart, control::StopCause::button});
    }
  }
  void release_at_cart(CartIx cart) {
    bodies_[cart.value].stopped_here = false;
    if (bodies_[cart.value].connected) act(control::CartReleased{cart});
  }

  // ---- the link and the service
  void drop_link(CartIx cart) {
    if (!bodies_[cart.value].connected) return;
    bodies_[cart.value].connected = false;
    act(control::CartLinkLost{cart});
  }
  void greet(CartIx cart) {
    Body& body = bodies_[cart.value];
    if (body.connected) return;
    body.connected = true;
    const control::Step step = body.points.empty() ? 0 : body.points[body.known].step;
    const control::Step until = body.points.empty() ? 0 : body.points.back().step;
    const auto pending = std::exchange(body.pending_done, std::nullopt);
    body.stopped = false;  // the service says so again if it is
    act(control::CartGreets{.cart = cart,
                            .last_tag = body.last_tag,
                            .step = step,
                            .until = until,
                            .rebooted = body.points.empty(),
                            .loaded = body.loaded,
                            .battery = 80,
                            .stopped = body.stopped_here});
    if (pending) act(*pending);
  }
  /// Kill and start again: everything but the records is forgotten.
  void restart_service() {
    for (Body& body : bodies_) body.connected = false;
    start_service();
  }

  // ---- the carts
  /// Lets the cart do the next thing it can. False if there is none.
  bool step(CartIx cart, double miss_rate = 0) {
    Body& body = bodies_[cart.value];
    if (body.points.empty() || body.stopped || body.stopped_here) return false;
    if (body.between) {
      arrive(cart, miss_rate);
      return true;
    }
    if (body.at + 1 < body.points.size()) {
      depart(cart);
      return true;
    }
    // A load that no job knows of (cancelled while it was put on) is taken off by a person.
    if (body.loaded && body.connected && !core_->cart(cart).job) {
      body.loaded = false;
      act(control::CartReports{.cart = cart, .battery = 80, .loaded = false});
      return true;
    }
    const control::ToldPoint& here = body.points[body.at];
    const bool load = here.act == control::ToldAct::load;
    if ((!load && here.act != control::ToldAct::unload) ||
        body.handled == std::pair{body.trip, here.step})
      return false;
    body.handled = {body.trip, here.step};
    body.loaded = load;
    const control::CartHandled done{cart, here.step,
                                    load ? control::Handling::load : control::Handling::unload};
    if (body.connected) {
      act(done);
    } else {
      body.pending_done = done;
    }
    return true;
  }

  void tick() { act(control::Tick{}); }

  /// Takes turns until every job has ended; false if nothing can move and some have not (gridlock).
  bool run_dry() {
    int idle_rounds = 0;
    while (open_jobs() > 0) {
      bool moved = false;
      for (std::size_t i = 0; i < carts(); ++i) {
        moved = step({static_cast<std::uint32_t>(pick(carts()))}) || moved;
      }
      tick();
      idle_rounds = moved ? 0 : idle_rounds + 1;
      if (idle_rounds > 100) return false;
    }
    return true;
  }
  [[nodiscard]] std::size_t open_jobs() const {
    std::size_t n = 0;
    for (const auto* job : core_->jobs()) n += control::is_final(job->state) ? 0 : 1;
    return n;
  }
  [[nodiscard]] std::string describe() const {
    std::string text = floor_.name + ":";
    for (std::uint32_t i = 0; i < carts(); ++i) {
      const auto view = core_->cart({i});
      text += "\n  " + names_[i] + " " + std::string(control::name_of(view.mode)) + " " +
              view.trouble + " at";
      for (std::size_t s = 0; s < view.path.size(); ++s) {
        text += " " + floor_[ways_[view.path[s].pose].at].id + (s == view.authority ? "|" : "");
      }
      if (view.waits_for) text += " waits for " + track_.name(view.waits_for->piece);
    }
    return text;
  }

  /// Loads put on and taken off, to check that each job was done exactly once.
  std::map<control::JobId, int> deliveries;

 private:
  struct Body {
    bool connected{false};
    bool stopped{true};        // by the service
    bool stopped_here{false};  // by its own button
    bool loaded{false};
    PoseIx pose;  // last point physically passed
    PoseIx next;  // while between two
    bool between{false};
    std::string last_tag;
    std::uint64_t trip{};
    std::vector<control::ToldPoint> points;
    std::size_t at{};     // where it physically is, as an index of `points`
    std::size_t known{};  // the last of them whose tag it read
    std::pair<std::uint64_t, control::Step> handled;  // in which trip, and where
    std::optional<control::CartHandled> pending_done;
  };

  void start_service() {
    control::Restored restored;
    for (const auto& [id, job] : saved_jobs_) restored.jobs.push_back(job);
    for (const auto& [cart, path] : saved_paths_) restored.paths.push_back(path);
    for (const auto& [cart, record] : saved_carts_) restored.carts.push_back(record);
    restored.last_job = saved_jobs_.empty() ? 0 : saved_jobs_.rbegin()->first.value;
    restored.fleet.all_stopped = saved_fleet_;
    core_ = std::make_unique<control::Core>(track_, names_, control::Policy{}, restored, now_);
  }

  void act(const control::Event& event) {
    now_ += Duration{static_cast<std::int64_t>(pick(2000))};
    const control::Outcome outcome = core_->handle(now_, event);
    for (const auto& record : outcome.records) save(record);
    for (const auto& message : outcome.messages) take(message);
    answered_well_ = true;
    for (const auto& answer : outcome.answers) {
      if (std::holds_alternative<control::Refusal>(answer.what)) answered_well_ = false;
    }
    for (const auto& trace : outcome.trace) {
      // Reads may move the start of the recorded path on, as the store does on loading.
      if (const auto* read = std::get_if<control::ReadTrace>(&trace); read && chance(0.7)) {
        auto& path = saved_paths_[read->cart].path;
        const auto at = std::ranges::find(path, read->step, &control::PathStep::step);
        if (at != path.end()) path.erase(path.begin(), at);
      }
    }
    check_truth();
  }

  void save(const control::Record& record) {
    if (const auto* job = std::get_if<control::JobRecord>(&record)) {
      const auto before = saved_jobs_.find(job->job.id);
      if (job->job.state == control::JobState::delivered &&
          (before == saved_jobs_.end() || before->second.state != control::JobState::delivered)) {
        ++deliveries[job->job.id];
      }
      saved_jobs_.insert_or_assign(job->job.id, job->job);
    } else if (const auto* path = std::get_if<control::PathRecord>(&record)) {
      saved_paths_[path->cart] = *path;
    } else if (const auto* cart = std::get_if<control::CartRecord>(&record)) {
      saved_carts_[cart->cart] = *cart;
    } else {
      saved_fleet_ = std::get<control::FleetRecord>(record).all_stopped;
    }
  }

  void take(const control::Message& message) {
    std::visit(
        [&](const auto& m) {
          Body& body = bodies_[m.cart.value];
          if (!body.connected) return;
          using M = std::decay_t<decltype(m)>;
          if constexpr (std::is_same_v<M, control::TellAuthority>) {
            take_authority(body, m);
          } else if constexpr (std::is_same_v<M, control::TellStop>) {
            body.stopped = true;
          } else if constexpr (std::is_same_v<M, control::TellRelease>) {
            body.stopped = false;
          } else if constexpr (std::is_same_v<M, control::TellReset>) {
            body.points.clear();
            body.at = body.known = 0;
            body.stopped = false;
          }
        },
        message);
  }

  void take_authority(Body& body, const control::TellAuthority& told) {
    if (!body.points.empty() && told.points.back().step < body.points.back().step) {
      throw std::logic_error("an authority was cut back");
    }
    const auto index_of = [&](control::Step step) {
      for (std::size_t i = 0; i < told.points.size(); ++i) {
        if (told.points[i].step == step) return i;
      }
      throw std::logic_error("an authority leaves out where the cart is");
    };
    if (body.points.empty()) {
      body.at = body.known = 0;
    } else {
      const control::Step at = body.points[body.at].step;
      const control::Step known = body.points[body.known].step;
      body.at = index_of(at);
      body.known = index_of(known);
    }
    body.trip = told.trip;
    body.points = told.points;
  }

  void depart(CartIx cart) {
    Body& body = bodies_[cart.value];
    const control::ToldPoint& next = body.points[body.at + 1];
    std::vector<PoseIx> matching;
    for (const floor::Move& move : ways_.moves_from(body.pose)) {
      const bool turn = body.points[body.at].act == control::ToldAct::turn;
      if (move.branch == next.branch && move.gear == next.gear && move.turn_round == turn) {
        matching.push_back(move.to);
      }
    }
    if (matching.size() != 1 || ways_[matching.front()].at != next.point) {
      throw std::logic_error("the branch told doesn't lead where it should from " +
                             floor_[ways_[body.pose].at].id);
    }
    body.next = matching.front();
    body.between = true;
    check_truth();
  }

  void arrive(CartIx cart, double miss_rate) {
    Body& body = bodies_[cart.value];
    body.pose = body.next;
    body.between = false;
    ++body.at;
    const bool must_read = body.at + 1 == body.points.size();  // else it would overrun
    check_truth();
    if (!must_read && chance(miss_rate)) return;
    body.known = body.at;
    body.last_tag = floor_[ways_[body.pose].at].tags.front();
    if (body.connected) {
      act(control::CartReads{cart, body.last_tag, body.points[body.at].step});
    }
  }

  /// No two carts are where their bodies could touch, by the floor's tables.
  void check_truth() const {
    std::vector<std::uint32_t> owner(track_.piece_count(), 0);
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      if (bodies_[i].last_tag.empty()) continue;
      for (const PieceIx piece : where(bodies_[i])) owner[piece.value] = i + 1;
    }
    for (std::uint32_t i = 0; i < bodies_.size(); ++i) {
      if (bodies_[i].last_tag.empty()) continue;
      for (const PieceIx piece : where(bodies_[i])) {
        const auto taken = [&](PieceIx p) {
          return owner[p.value] != 0 && owner[p.value] != i + 1;
        };
        if (taken(piece) || std::ranges::any_of(track_.conflicts(piece), taken)) {
          throw std::logic_error("two carts at " + track_.name(piece));
        }
      }
    }
  }
  [[nodiscard]] std::vector<PieceIx> where(const Body& body) const {
    const auto here = track_.cover(body.pose);
    std::vector<PieceIx> pieces(here.begin(), here.end());
    if (body.between) {
      const auto next = track_.cover(body.next);
      pieces.insert(pieces.end(), next.begin(), next.end());
    }
    return pieces;
  }

  const floor::Track& track_;
  const floor::Ways& ways_;
  const floor::Floor& floor_;
  std::vector<std::string> names_;
  std::vector<Body> bodies_;
  std::mt19937 random_;
  Instant now_{std::chrono::seconds{1'800'000'000}};
  std::unique_ptr<control::Core> core_;
  std::map<control::JobId, control::Job> saved_jobs_;
  std::map<CartIx, control::PathRecord> saved_paths_;
  std::map<CartIx, control::CartRecord> saved_carts_;
  bool saved_fleet_{false};
  bool answered_well_{false};
};

}  // namespace tagline::test
