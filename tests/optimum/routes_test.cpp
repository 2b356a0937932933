// Least times to a point, and ways on the demo floor, against Boost.Graph's dijkstra_shortest_paths
// (Boost 1.81; E. W. Dijkstra, Numerische Mathematik 1, 1959). Boost runs forwards from every pose,
// what is tested runs backwards from the goals. Times and routes from a pose on random floors are
// compared in tests/unit/track/route_test.cpp.
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <cstdio>
#include <random>
#include <span>
#include <stdexcept>

#include "server/floor/file.hpp"
#include "server/floor/travel_times.hpp"
#include "tests/support/random_floor.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::floor {
namespace {

using Graph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, boost::no_property,
                                    boost::property<boost::edge_weight_t, std::int64_t>>;
/// times[from][to], ms; Duration::max() for no way, as Boost's own largest number.
using AllTimes = std::vector<std::vector<std::int64_t>>;

AllTimes by_boost(const Ways& ways, const std::vector<bool>& open) {
  Graph graph(ways.pose_count());
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    for (const Move& move : ways.moves_from({p})) {
      if (open[move.to.value]) boost::add_edge(p, move.to.value, move.time.count(), graph);
    }
  }
  AllTimes times(ways.pose_count(), std::vector<std::int64_t>(ways.pose_count()));
  for (std::size_t p = 0; p < times.size(); ++p) {
    boost::dijkstra_shortest_paths(graph, p,
                                   boost::distance_map(boost::make_iterator_property_map(
                                       times[p].begin(), boost::get(boost::vertex_index, graph))));
  }
  return times;
}

std::vector<Duration> nearest(const AllTimes& all, std::span<const PoseIx> goals) {
  std::vector<Duration> result(all.size(), Duration::max());
  for (std::size_t p = 0; p < all.size(); ++p) {
    for (const PoseIx goal : goals) result[p] = std::min(result[p], Duration{all[p][goal.value]});
  }
  return result;
}

struct Compared {
  std::size_t reached{}, not_reached{};
  void count(const std::vector<Duration>& times) {
    for (const Duration time : times) ++(time == Duration::max() ? not_reached : reached);
  }
};

/// times_to() for goals at random and TravelTimes for every point, with `open` and with all open.
void compare(const Ways& ways, const std::vector<bool>& open, std::mt19937& random,
             Compared& compared) {
  const std::vector<bool> all_open(ways.pose_count(), true);
  const AllTimes closed_times = by_boost(ways, open);
  const AllTimes open_times = by_boost(ways, all_open);
  for (int trial = 0; trial < 6; ++trial) {
    std::vector<PoseIx> goals;
    const std::size_t count = random() % 4;
    while (goals.size() < count) {
      goals.push_back({static_cast<std::uint32_t>(random() % ways.pose_count())});
    }
    const auto expected = nearest(closed_times, goals);
    ASSERT_EQ(times_to(ways, goals, open), expected);
    compared.count(expected);
  }
  TravelTimes travel(ways);
  const auto all_points = [&](const AllTimes& times) {
    for (std::uint32_t p = 0; p < ways.floor().points.size(); ++p) {
      const auto expected = nearest(times, ways.poses_at({p}));
      ASSERT_EQ(travel.to({p}), expected) << ways.floor().points[p].id;
      ASSERT_EQ(travel.to({p}), expected) << "asked again, " << ways.floor().points[p].id;
      compared.count(expected);
    }
  };
  ASSERT_NO_FATAL_FAILURE(all_points(open_times));
  travel.set_open(open);
  ASSERT_NO_FATAL_FAILURE(all_points(closed_times));
  travel.set_open(all_open);
  ASSERT_NO_FATAL_FAILURE(all_points(open_times));
}

Floor demo_floor() {
  auto loaded = load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  if (auto* floor = std::get_if<Floor>(&loaded)) return std::move(*floor);
  throw std::runtime_error("the demo floor doesn't load");
}

std::vector<bool> mostly_open(const Ways& ways, std::mt19937& random) {
  std::vector<bool> open(ways.pose_count());
  for (std::size_t p = 0; p < open.size(); ++p) open[p] = random() % 10 != 0;
  return open;
}

TEST(Routes, TimesToAPointEqualBoostGraphOnRandomFloors) {
  Compared compared;
  for (std::uint32_t seed = 1; seed <= 30; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    const Floor floor = test::random_floor(seed, {8 + seed, 6000});
    const Ways ways{floor};
    std::mt19937 random{seed};
    ASSERT_NO_FATAL_FAILURE(compare(ways, mostly_open(ways, random), random, compared));
  }
  std::printf("  %zu times equal, %zu times no way by both\n", compared.reached,
              compared.not_reached);
  EXPECT_GT(compared.reached, 50'000u);
  EXPECT_GT(compared.not_reached, 5'000u);
}

TEST(Routes, TimesToAPointEqualBoostGraphOnTheFloorsOfTheTests) {
  Compared compared;
  std::mt19937 random{5};
  auto floors = test::small_floors();
  floors.push_back(test::plain_loop());
  floors.push_back(demo_floor());
  for (const Floor& floor : floors) {
    SCOPED_TRACE(floor.name);
    const Ways ways{floor};
    ASSERT_NO_FATAL_FAILURE(compare(ways, mostly_open(ways, random), random, compared));
  }
  EXPECT_GT(compared.reached, 5'000u);
  EXPECT_GT(compared.not_reached, 500u);
}

TEST(Routes, WaysOnTheDemoFloorEqualBoostGraph) {
  const Floor floor = demo_floor();
  const Ways ways{floor};
  std::mt19937 random{6};
  for (int round = 0; round < 3; ++round) {
    const std::vector<bool> open =
        round == 0 ? std::vector<bool>(ways.pose_count(), true) : mostly_open(ways, random);
    const auto is_open = [&](PoseIx pose) { return open[pose.value]; };
    const AllTimes expected = by_boost(ways, open);
    for (std::uint32_t from = 0; from < ways.pose_count(); ++from) {
      const auto times = times_from(ways, {from}, is_open);
      for (std::uint32_t to = 0; to < ways.pose_count(); ++to) {
        ASSERT_EQ(times[to], Duration{expected[from][to]});
      }
      // To the nearest pose of a station, as a cart would go.
      for (const Station& station : floor.stations) {
        const auto route = shortest_route(
            ways, {from}, [&](PoseIx pose) { return ways[pose].at == station.point; }, is_open);
        const Duration least = nearest(expected, ways.poses_at(station.point))[from];
        ASSERT_EQ(route.has_value(), least != Duration::max());
        if (!route) continue;
        ASSERT_EQ(route->time, least);
        Duration sum{0};
        for (std::size_t i = 1; i < route->steps.size(); ++i) {
          const Move* move = ways.find_move(route->steps[i - 1], route->steps[i]);
          ASSERT_NE(move, nullptr);
          ASSERT_TRUE(is_open(move->to));
          sum += move->time;
        }
        ASSERT_EQ(sum, least);
      }
    }
  }
}

}  // namespace
}  // namespace tagline::floor
