// A core to talk to in tests: events in short, and what came of the last one.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "server/control/core.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::control {

inline constexpr CartIx one{0};
inline constexpr CartIx two{1};

/// A core with two carts on a small floor - unless another is given the loop with two sidings on
/// each side (H1, H2 right; K1, K2 left) - and everything it said last.
class CoreTest : public testing::Test {
 protected:
  explicit CoreTest(floor::Floor on = test::loop_with_bay()) : floor(std::move(on)) {}

  void start(const Restored& restored = {}) {
    core = std::make_unique<Core>(track, std::vector<std::string>{"cart-1", "cart-2"}, Policy{},
                                  restored, now);
  }
  void tell(const Event& event) {
    now += std::chrono::seconds{1};
    last = core->handle(now, event);
    for (const Record& record : last.records) keep(record);
  }
  void keep(const Record& record) {
    if (const auto* job = std::get_if<JobRecord>(&record))
      jobs.insert_or_assign(job->job.id, job->job);
    if (const auto* path = std::get_if<PathRecord>(&record))
      paths.insert_or_assign(path->cart, *path);
    if (const auto* cart = std::get_if<CartRecord>(&record))
      carts.insert_or_assign(cart->cart, *cart);
    if (const auto* all = std::get_if<FleetRecord>(&record)) fleet = *all;
    if (const auto* down = std::get_if<DowntimeRecord>(&record)) {
      downtimes.erase(down->what);
      if (down->downtime) downtimes.emplace(down->what, *down->downtime);
    }
    if (const auto* zone = std::get_if<ZoneRecord>(&record)) {
      if (zone->stopped) {
        stopped_zones.insert(zone->zone);
      } else {
        stopped_zones.erase(zone->zone);
      }
    }
  }
  /// What the store would give back.
  Restored restored() const {
    Restored r;
    for (const auto& [id, job] : jobs) r.jobs.push_back(job);
    for (const auto& [cart, path] : paths) r.paths.push_back(path);
    for (const auto& [cart, record] : carts) r.carts.push_back(record);
    r.fleet = fleet;
    for (const auto& [what, downtime] : downtimes) r.downtimes.push_back(downtime);
    r.stopped_zones.assign(stopped_zones.begin(), stopped_zones.end());
    return r;
  }

  std::string tag(const std::string& point) const {
    return floor[*floor.find_point(point)].tags[0];
  }
  void greet(CartIx cart, const std::string& at, Step step = 0, Step until = 0,
             bool stopped = false) {
    tell(CartGreets{.cart = cart,
                    .last_tag = tag(at),
                    .step = step,
                    .until = until,
                    .rebooted = until == 0,
                    .battery = 80,
                    .stopped = stopped});
  }
  void put_on_floor(CartIx cart, const std::string& siding) {
    greet(cart, siding);
    tell(AskPlaceCart{1, cart, siding, ""});
    ASSERT_TRUE(accepted()) << refusal();
  }
  JobId ask(const std::string& from, const std::string& to) {
    tell(AskJob{.request = 1, .from = from, .to = to});
    return std::get<JobTaken>(last.answers.at(0).what).job;
  }
  void read(CartIx cart, const std::string& point) { tell(CartReads{cart, tag(point), 0}); }
  /// Drives along its granted track, reading every tag, and handles what there is to handle, until
  /// it can do no more.
  void drive(CartIx cart) {
    for (int i = 0; i < 200; ++i) {
      const CartView view = core->cart(cart);
      if (view.mode == CartMode::driving) {
        tell(CartReads{cart, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
      } else if (view.mode == CartMode::handling) {
        const bool load = view.path[0].act == Act::load;
        tell(CartHandled{cart, view.path[0].step, load ? Handling::load : Handling::unload});
      } else {
        return;
      }
    }
    FAIL() << "drives for ever";
  }
  /// Drives until `point` is the last one passed.
  void drive_to(CartIx cart, const std::string& point) {
    for (int i = 0; i < 50 && at(cart) != point; ++i) {
      const CartView view = core->cart(cart);
      ASSERT_EQ(view.mode, CartMode::driving) << "stands at " << at(cart);
      tell(CartReads{cart, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
    }
  }
  std::string at(CartIx cart) const {
    const CartView view = core->cart(cart);
    return view.path.empty() ? "" : floor[track.ways()[view.path[0].pose].at].id;
  }
  CartMode mode(CartIx cart) const { return core->cart(cart).mode; }
  bool holds(CartIx cart, const std::string& piece) const {
    for (const PieceIx held : core->cart(cart).holds) {
      if (track.name(held) == piece) return true;
    }
    return false;
  }
  bool accepted() const {
    return last.answers.size() == 1 && std::holds_alternative<Accepted>(last.answers[0].what);
  }
  std::string refusal() const {
    if (last.answers.size() != 1) return "no answer";
    const auto* refused = std::get_if<Refusal>(&last.answers[0].what);
    return refused != nullptr ? refused->detail : "";
  }
  template <class M>
  std::vector<M> messages(CartIx cart) const {
    std::vector<M> found;
    for (const Message& message : last.messages) {
      if (const M* m = std::get_if<M>(&message); m != nullptr && m->cart == cart)
        found.push_back(*m);
    }
    return found;
  }
  bool alarm(AlarmKind kind) const {
    for (const Alarm& a : core->alarms()) {
      if (a.kind == kind) return true;
    }
    return false;
  }

  const floor::Floor floor;
  const floor::Ways ways{floor};
  const floor::Track track{ways};
  Instant now{std::chrono::seconds{1'800'000'000}};
  std::unique_ptr<Core> core;
  Outcome last;
  std::map<JobId, Job> jobs;
  std::map<CartIx, PathRecord> paths;
  std::map<CartIx, CartRecord> carts;
  FleetRecord fleet;
  std::map<Facility, Downtime> downtimes;
  std::set<ZoneIx> stopped_zones;
};

}  // namespace tagline::control
