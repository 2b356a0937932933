// The referee that skips ahead against one that looks at every pair every millisecond, and bodies
// against the trail of the slow simulation.
#include "server/sim/closing_referee.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "server/sim/drive_profile.hpp"
#include "server/sim/random.hpp"
#include "server/sim/tape_walk.hpp"
#include "server/sim/trail.hpp"
#include "tests/support/random_floor.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::sim {
namespace {

/// A body that drives at random over the tape, heeding nobody.
struct Wanderer {
  Wanderer(const TapeTable& table, PoseIx pose, Random its_random)
      : tapes{&table}, walk{table, pose}, random{its_random}, x{walk.home().end()} {
    const floor::Ways& ways = table.ways();
    std::vector<Stretch> way;
    PoseIx here = pose;
    for (std::size_t i = 1; i <= 12; ++i) {
      std::vector<PoseIx> next;
      for (const floor::Move& move : ways.moves_from(here)) {
        if (move.gear == floor::Gear::forward && !move.turn_round) next.push_back(move.to);
      }
      if (next.empty()) break;
      here = next[random.next() % next.size()];
      walk.lead_on(i, here, 1);
      way.push_back({walk.ahead(i)->length, random.between(100, 400)});
    }
    profile.drive(random.between(0, 10), 0, way, {300, 600});
    start = profile.time_at(0);
  }
  [[nodiscard]] double reader(double t) const { return t < start ? x : x + profile.distance(t); }
  [[nodiscard]] bool still(double t) const { return t < start || t >= profile.end(); }

  const TapeTable* tapes;
  TapeWalk walk;
  Random random;
  double x;
  DriveProfile profile;
  double start{};
};

SeenMotion see(const Wanderer& w, double now) {
  const floor::CartBody& cart = w.tapes->ways().floor().cart;
  SeenMotion s;
  const double x = w.reader(now);
  s.body = w.walk.body(x);
  s.reader = w.walk.spot(x).at;
  s.still = w.still(now);
  s.speed = 400 * w.tapes->most_scale();
  s.straight_s = (w.walk.straight(x).high - x) / 400;
  s.going = s.body.along;
  const auto to_tail = static_cast<double>((cart.length - cart.reader_to_nose).value);
  s.chord = std::max(1.0, floor::distance(s.reader, w.walk.spot(x - to_tail).at));
  return s;
}

double reach_of(const floor::CartBody& cart) {
  const auto nose = static_cast<double>(cart.reader_to_nose.value);
  const auto length = static_cast<double>(cart.length.value);
  return std::hypot(std::max(nose, length - nose), static_cast<double>(cart.width.value) / 2);
}

/// Pairs that come to touch, by a look at every pair every millisecond; only contacts that last.
void compare(const floor::Floor& floor, std::uint64_t seed, std::size_t bodies, int& contacts,
             std::uint64_t& looks) {
  const floor::Ways ways(floor);
  const TapeTable tapes(ways);
  Random random{seed};
  std::vector<Wanderer> carts;
  for (std::size_t i = 0; i < bodies; ++i) {
    const PoseIx pose{static_cast<std::uint32_t>(random.next() % ways.pose_count())};
    carts.emplace_back(tapes, pose, Random{random.next()});
  }
  ClosingReferee referee(bodies, reach_of(floor.cart), 400 * tapes.most_scale(),
                         [&](std::size_t body, double now) { return see(carts[body], now); });
  for (std::size_t i = 0; i < bodies; ++i) referee.enter(i, 0);
  const double end = 40;
  std::vector<std::pair<double, std::size_t>> starts;
  for (std::size_t i = 0; i < bodies; ++i) starts.emplace_back(carts[i].start, i);
  std::sort(starts.begin(), starts.end());
  std::size_t next = 0;
  while (true) {
    const double start = next < starts.size() ? starts[next].first : 1e9;
    const double due = std::min(referee.due(), start);
    if (due > end) break;
    if (start <= referee.due()) {
      referee.stirred(starts[next++].second, start);
    } else {
      referee.look(due);
    }
  }
  looks += referee.looks();
  std::set<std::pair<std::size_t, std::size_t>> found;
  for (const auto& contact : referee.contacts()) {
    found.emplace(std::min(contact.a, contact.b), std::max(contact.a, contact.b));
    // What it calls a contact is one.
    EXPECT_EQ(free_space(contact.first.body, contact.second.body), 0);
  }
  std::set<std::pair<std::size_t, std::size_t>> brute;
  for (int ms = 0; ms <= static_cast<int>(end * 1000); ++ms) {
    const double t = ms / 1000.0;
    std::vector<Rectangle> at;
    for (const Wanderer& cart : carts) at.push_back(cart.walk.body(cart.reader(t)));
    for (std::size_t a = 0; a < bodies; ++a) {
      for (std::size_t b = a + 1; b < bodies; ++b) {
        if (brute.contains({a, b})) continue;
        if (floor::distance(at[a].centre, at[b].centre) > 2 * reach_of(floor.cart)) continue;
        // Deeper than what may slip between looks.
        Rectangle smaller = at[a];
        smaller.length -= 8;
        smaller.width -= 8;
        if (free_space(smaller, at[b]) == 0) brute.emplace(a, b);
      }
    }
  }
  for (const auto& pair : brute) {
    EXPECT_TRUE(found.contains(pair)) << floor.name << " seed " << seed << ": " << pair.first
                                      << " and " << pair.second << " touched unseen";
  }
  contacts += static_cast<int>(brute.size());
}

TEST(ClosingReferee, SeesWhatALookEveryMillisecondSees) {
  int contacts = 0;
  std::uint64_t looks = 0;
  std::uint64_t seed = 1;
  for (const floor::Floor& floor : test::small_floors()) compare(floor, seed++, 5, contacts, looks);
  for (std::uint32_t f = 1; f <= 8; ++f) {
    compare(test::random_floor(f, {20, 6000}), seed++, 4, contacts, looks);
  }
  // Bodies that heed nobody do touch; otherwise this would test nothing.
  EXPECT_GE(contacts, 20);
  // 15 floors, 40 s each, 6 to 10 pairs: a look every ms would be more than 4 million.
  EXPECT_LT(looks, 100'000u);
}

TEST(ClosingReferee, APairAtRestIsNotLookedAtUntilOneStirs) {
  const floor::Floor floor = test::loop_with_bay();
  std::vector<SeenMotion> bodies(2);
  for (auto& b : bodies) {
    b.still = true;
    b.body = {{0, 0}, {1, 0}, 600, 400};
  }
  bodies[1].body.centre = bodies[1].reader = {0, 600};
  ClosingReferee referee(2, 540, 400, [&](std::size_t i, double) { return bodies[i]; });
  referee.enter(0, 0);
  referee.enter(1, 0);
  EXPECT_EQ(referee.due(), std::numeric_limits<double>::infinity());
  EXPECT_NEAR(referee.least_gap(), 200, 1e-9);
  // Moved by hand onto the other.
  bodies[1].body.centre = bodies[1].reader = {0, 300};
  referee.stirred(1, 5);
  ASSERT_EQ(referee.contacts().size(), 1u);
  EXPECT_EQ(referee.contacts()[0].at, 5);
}

TEST(TapeWalk, BodyLiesWhereTheSlowSimulationHasIt) {
  for (std::uint32_t seed = 1; seed <= 10; ++seed) {
    const floor::Floor floor = test::random_floor(seed, {15, 5000});
    const floor::Ways ways(floor);
    const TapeTable tapes(ways);
    Random random{seed};
    for (int round = 0; round < 20; ++round) {
      PoseIx here{static_cast<std::uint32_t>(random.next() % ways.pose_count())};
      TapeWalk walk(tapes, here);
      Trail trail(ways, here, 0);
      double x = walk.home().end();
      for (int hop = 0; hop < 6; ++hop) {
        const floor::Move* next = nullptr;
        for (const floor::Move& move : ways.moves_from(here)) {
          if (move.gear != floor::Gear::forward || move.turn_round) continue;
          // The trail takes the straightest of two tapes of one name: only clear forks here.
          const auto twins = std::ranges::count_if(ways.moves_from(here), [&](const auto& m) {
            return m.gear == floor::Gear::forward && !m.turn_round && m.branch == move.branch;
          });
          if (twins == 1 && (next == nullptr || random.chance(0.5))) next = &move;
        }
        if (next == nullptr) break;
        walk.lead_on(1, next->to, 1);
        for (int part = 1; part <= 4; ++part) {
          const double step = walk.ahead(1)->length / 4;
          x += step;
          trail.forward(part == 4 ? step - 1e-7 : step, {next->branch, false});
          const Rectangle a = walk.body(x);
          const Rectangle b = trail.body();
          ASSERT_NEAR(a.centre.x, b.centre.x, 1e-3) << seed << " " << round;
          ASSERT_NEAR(a.centre.y, b.centre.y, 1e-3);
          ASSERT_NEAR(a.along.x, b.along.x, 1e-3);
          // As far as it says that it goes straight on, its heading stays.
          const double high = walk.straight(x).high;
          if (high > x) {
            const Rectangle later = walk.body(high);
            ASSERT_NEAR(later.along.x, a.along.x, 1e-4);
            ASSERT_NEAR(later.along.y, a.along.y, 1e-4);
            const Rectangle between = walk.body((x + high) / 2);
            ASSERT_NEAR(between.along.x, a.along.x, 1e-4);
          }
        }
        trail.forward(1e-7, {next->branch, false});
        walk.pass_forward();
        here = next->to;
      }
    }
  }
}

}  // namespace
}  // namespace tagline::sim
