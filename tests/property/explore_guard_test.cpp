// Every order in which reads and grants can come, time left out: from each state that the guard
// lets an adversary reach on small floors, all carts can still get home, and no two of them are
// where bodies could touch. The adversary asks for every single grant, with the best order there
// is. What is safe and who can get home is worked out here, from the floor's tables alone, without
// the guard, its run-through or the planner. The same explorer must find faults planted on purpose:
// a rule left out that finds nothing would mean that it looks at nothing.
#include <gtest/gtest.h>

#include <algorithm>
#include <deque>
#include <map>
#include <set>

#include "server/dispatch/errand.hpp"
#include "server/floor/track.hpp"
#include "server/traffic/guard.hpp"
#include "server/traffic/planner.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline {
namespace {

using traffic::Guard;
using traffic::Itinerary;

/// A floor with trips for some carts: from a siding over two stations to a siding, each with a
/// place of rest of its own.
struct Scene {
  Scene(floor::Floor f, std::size_t carts) : floor(std::move(f)), ways(floor), track(ways) {
    std::vector<PoseIx> sidings;
    for (std::uint32_t p = 0; p < floor.points.size(); ++p) {
      if (floor.points[p].siding) sidings.push_back(ways.poses_at({p}).front());
    }
    for (std::size_t i = 0; i < carts; ++i) {
      const auto station = [&](std::size_t n) {
        return floor.stations[n % floor.stations.size()].point;
      };
      const auto others = [&](PoseIx pose) {
        for (std::size_t j = 0; j < carts; ++j) {
          if (j != i && touch(pose, sidings[j])) return false;
        }
        return true;
      };
      const auto errand = dispatch::lay_out(ways,
                                            {.start = sidings[i],
                                             .stops = {station(i), station(i + 1 + i % 2)},
                                             .rests = {sidings[i]}},
                                            others);
      if (!errand) throw std::runtime_error("no errand on " + floor.name);
      trips.push_back(errand->steps);
    }
  }
  /// Bodies in these two poses could touch.
  [[nodiscard]] bool touch(PoseIx a, PoseIx b) const {
    for (const PieceIx x : track.cover(a)) {
      for (const PieceIx y : track.cover(b)) {
        if (x == y || std::ranges::binary_search(track.conflicts(x), y)) return true;
      }
    }
    return false;
  }

  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
  std::vector<std::vector<PoseIx>> trips;
};

/// Where each cart is (last tag read) and may go, as indices of its trip.
using State = std::vector<std::pair<std::size_t, std::size_t>>;

enum class Fault {
  none,
  way_out_off,        // grants are checked against holdings only
  conflict_left_out,  // the guard's tables know shared track, but no conflicts
  release_by_time,    // track behind is freed one read too early
};

struct Findings {
  std::size_t states{0};
  std::size_t contacts{0};
  std::size_t locked_in{0};
};

class Explorer {
 public:
  Explorer(const Scene& scene, Fault fault) : scene_(scene), fault_(fault) {}

  Findings run() {
    const State begin(scene_.trips.size(), {0, 0});
    std::set<State> seen{begin};
    std::deque<State> todo{begin};
    while (!todo.empty()) {
      const State state = todo.front();
      todo.pop_front();
      ++findings_.states;
      if (contact(state)) ++findings_.contacts;
      if (!all_get_home(state)) ++findings_.locked_in;
      for (State& next : successors(state)) {
        if (seen.insert(next).second) todo.push_back(std::move(next));
      }
    }
    return findings_;
  }

 private:
  /// All that can come next: any cart with authority reads its next tag, any grant of one step.
  std::vector<State> successors(const State& state) {
    std::vector<State> result;
    for (std::size_t c = 0; c < state.size(); ++c) {
      if (state[c].first < state[c].second) {
        result.push_back(state);
        ++result.back()[c].first;
      }
      if (state[c].second + 1 < scene_.trips[c].size() && granted(state, c)) {
        result.push_back(state);
        ++result.back()[c].second;
      }
    }
    return result;
  }

  /// What the guard says to one step more for cart `c`.
  bool granted(const State& state, std::size_t c) {
    Guard guard(scene_.track, state.size());
    for (std::uint32_t i = 0; i < state.size(); ++i) {
      // A read too early: the guard believes the cart one tag farther than it is.
      const bool early = fault_ == Fault::release_by_time && state[i].first < state[i].second;
      const Itinerary itinerary = rest_of(state, i, early ? 1 : 0);
      const auto order = traffic::find_order_thoroughly(guard, {i}, itinerary);
      if (!order || guard.place({i}, itinerary, *order)) {
        // Only a planted fault leads to states that the guard itself would call unsafe.
        return fault_ == Fault::none ? throw std::logic_error("the guard can't take up its state")
                                     : false;
      }
    }
    const CartIx cart{static_cast<std::uint32_t>(c)};
    const auto next = scene_.track.cover(scene_.trips[c][state[c].second + 1]);
    if (fault_ == Fault::way_out_off) return !guard.obstacle(cart, next);
    if (fault_ == Fault::conflict_left_out) {
      return std::ranges::none_of(next, [&](PieceIx piece) {
        for (std::uint32_t other = 0; other < state.size(); ++other) {
          if (other != cart.value && std::ranges::binary_search(guard.holdings({other}), piece)) {
            return true;
          }
        }
        return false;
      });
    }
    Itinerary ahead = *guard.itinerary(cart);
    ++ahead.authority;
    const auto order = traffic::find_order_thoroughly(guard, cart, ahead);
    return order && !guard.grant(cart, 1, *order);
  }

  [[nodiscard]] Itinerary rest_of(const State& state, std::size_t c, std::size_t skip) const {
    const auto first = static_cast<std::ptrdiff_t>(state[c].first + skip);
    return {{scene_.trips[c].begin() + first, scene_.trips[c].end()},
            state[c].second - state[c].first - skip};
  }

  /// Two carts could be in each other's way right now: each may be anywhere from the last tag it
  /// read to just before the next.
  [[nodiscard]] bool contact(const State& state) const {
    const auto poses = [&](std::size_t c) {
      std::vector<PoseIx> result{scene_.trips[c][state[c].first]};
      if (state[c].first < state[c].second) result.push_back(scene_.trips[c][state[c].first + 1]);
      return result;
    };
    for (std::size_t a = 0; a < state.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        for (const PoseIx x : poses(a)) {
          for (const PoseIx y : poses(b)) {
            if (scene_.touch(x, y)) return true;
          }
        }
      }
    }
    return false;
  }

  /// Once every authority has been run out, some sequence of single steps brings everybody to the
  /// end. Every sequence is tried; what is known of a position is kept.
  bool all_get_home(const State& state) {
    std::vector<std::size_t> at;
    for (const auto& [position, authority] : state) at.push_back(authority);
    return gets_home(at);
  }
  bool gets_home(const std::vector<std::size_t>& at) {
    if (const auto known = home_.find(at); known != home_.end()) return known->second;
    bool all = true;
    bool some = false;
    for (std::size_t c = 0; c < at.size() && !some; ++c) {
      if (at[c] + 1 == scene_.trips[c].size()) continue;
      all = false;
      const PoseIx next = scene_.trips[c][at[c] + 1];
      bool clear = true;
      for (std::size_t other = 0; other < at.size(); ++other) {
        clear = clear && (other == c || !scene_.touch(next, scene_.trips[other][at[other]]));
      }
      if (!clear) continue;
      auto then = at;
      ++then[c];
      some = gets_home(then);
    }
    return home_[at] = all || some;
  }

  const Scene& scene_;
  Fault fault_;
  Findings findings_;
  std::map<std::vector<std::size_t>, bool> home_;
};

TEST(ExploreGuard, NoReachableStateHasAContactOrLocksSomebodyIn) {
  for (const floor::Floor& floor : test::small_floors()) {
    for (const std::size_t carts : {std::size_t{2}, std::size_t{3}}) {
      const Scene scene(floor, carts);
      const Findings found = Explorer(scene, Fault::none).run();
      std::printf("  %-32s %zu carts: %zu states\n", floor.name.c_str(), carts, found.states);
      EXPECT_GT(found.states, 100u);
      EXPECT_EQ(found.contacts, 0u) << floor.name;
      EXPECT_EQ(found.locked_in, 0u) << floor.name;
    }
  }
}

TEST(ExploreGuard, FindsThatTheWayOutIsNotTested) {
  const Scene scene(test::corridor(), 2);
  EXPECT_GT(Explorer(scene, Fault::way_out_off).run().locked_in, 0u);
}

TEST(ExploreGuard, FindsAConflictLeftOut) {
  const Scene scene(test::figure_of_eight(), 2);
  EXPECT_GT(Explorer(scene, Fault::conflict_left_out).run().contacts, 0u);
}

TEST(ExploreGuard, FindsTrackReleasedByTime) {
  const Scene scene(test::loop_with_bay(), 2);
  EXPECT_GT(Explorer(scene, Fault::release_by_time).run().contacts, 0u);
}

}  // namespace
}  // namespace tagline
