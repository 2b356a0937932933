// Shortest ways: by hand, and against Boost.Graph's dijkstra_shortest_paths (Boost 1.81), an
// implementation of its own, on random floors.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "server/floor/ways.hpp"
#include "tests/support/floor_builder.hpp"
#include "tests/support/random_floor.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using testing::ElementsAre;

bool everywhere(PoseIx) { return true; }

auto at_point(const Ways& ways, PointIx point) {
  return [&ways, point](PoseIx pose) { return ways[pose].at == point; };
}

std::vector<std::string> points_of(const Ways& ways, const Route& route) {
  std::vector<std::string> ids;
  for (const PoseIx pose : route.steps) ids.push_back(ways.floor()[ways[pose].at].id);
  return ids;
}

/// In -> A; from A to D by B (2 x 1000 mm) or by C (2 x 1200 mm, but an open way); D -> E.
FloorBuilder diamond() {
  FloorBuilder builder;
  builder.point("IN", -1000, 0)
      .point("A", 0, 0)
      .point("B", 800, 600)
      .point("C", 800, -600)
      .point("D", 1600, 0)
      .point("E", 2600, 0)
      .segment("S0", "IN", "A")
      .segment("S1", "A", "B")
      .segment("S2", "B", "D")
      .segment("S3", "A", "C")
      .length(1200)
      .segment("S4", "C", "D")
      .length(1200)
      .segment("S5", "D", "E");
  return builder;
}

TEST(ShortestRoute, TakesTheQuickerWay) {
  const FloorBuilder builder = diamond();
  const Floor floor = builder.build();
  const Ways ways{floor};
  const PoseIx start = ways.poses_at(builder.point_at("A"))[0];
  const auto route = shortest_route(ways, start, at_point(ways, builder.point_at("E")), everywhere);
  ASSERT_TRUE(route);
  EXPECT_THAT(points_of(ways, *route), ElementsAre("A", "B", "D", "E"));
  EXPECT_EQ(route->time, Duration{7500});
}

TEST(ShortestRoute, GoesRoundWhatIsClosed) {
  const FloorBuilder builder = diamond();
  const Floor floor = builder.build();
  const Ways ways{floor};
  const PoseIx start = ways.poses_at(builder.point_at("A"))[0];
  const auto without = [&](const char* id) {
    return [&ways, closed = builder.point_at(id)](PoseIx pose) { return ways[pose].at != closed; };
  };
  const auto goal = at_point(ways, builder.point_at("E"));
  const auto route = shortest_route(ways, start, goal, without("B"));
  ASSERT_TRUE(route);
  EXPECT_THAT(points_of(ways, *route), ElementsAre("A", "C", "D", "E"));
  EXPECT_FALSE(shortest_route(ways, start, goal, without("D")));
  EXPECT_FALSE(shortest_route(ways, start, goal, without("E"))) << "the goal must be open too";
  EXPECT_TRUE(shortest_route(ways, start, goal, without("A"))) << "the start is exempt";
}

TEST(ShortestRoute, HasNoMovesWhereTheStartIsAGoal) {
  const Floor floor = diamond().build();
  const Ways ways{floor};
  const auto nothing_open = [](PoseIx) { return false; };
  const auto route = shortest_route(ways, PoseIx{0}, everywhere, nothing_open);
  ASSERT_TRUE(route);
  EXPECT_THAT(route->steps, ElementsAre(PoseIx{0}));
  EXPECT_EQ(route->time, Duration{0});
}

TEST(ShortestRoute, LeadsOutOfASpurByItsMouth) {
  const FloorBuilder builder = FloorBuilder{}
                                   .point("A", 0, 0)
                                   .point("B", 1000, 0)
                                   .point("C", 2000, 0)
                                   .point("K", 1000, 1000)
                                   .segment("S1", "A", "B")
                                   .segment("S2", "B", "C")
                                   .segment("SP", "B", "K")
                                   .spur();
  const Floor floor = builder.build();
  const Ways ways{floor};
  const PoseIx in_spur = ways.poses_at(builder.point_at("K"))[0];
  const auto out = shortest_route(ways, in_spur, at_point(ways, builder.point_at("C")), everywhere);
  ASSERT_TRUE(out);
  EXPECT_THAT(points_of(ways, *out), ElementsAre("K", "B", "C"));
}

TEST(ShortestRoute, BreaksTiesByPoseIndex) {
  FloorBuilder even;  // as diamond(), but with both ways of 1000 mm, written in the other order
  even.point("IN", -1000, 0)
      .point("A", 0, 0)
      .point("B", 800, 600)
      .point("C", 800, -600)
      .point("D", 1600, 0)
      .point("E", 2600, 0)
      .segment("S0", "IN", "A")
      .segment("S3", "A", "C")
      .segment("S4", "C", "D")
      .segment("S1", "A", "B")
      .segment("S2", "B", "D")
      .segment("S5", "D", "E");
  const Floor floor = even.build();
  const Ways ways{floor};
  const auto route =
      shortest_route(ways, PoseIx{0}, at_point(ways, even.point_at("E")), everywhere);
  ASSERT_TRUE(route);
  EXPECT_THAT(points_of(ways, *route), ElementsAre("A", "C", "D", "E"));
}

using Graph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, boost::no_property,
                                    boost::property<boost::edge_weight_t, std::int64_t>>;

TEST(Times, EqualThoseOfBoostGraph) {
  std::size_t reached = 0;
  std::size_t not_reached = 0;
  for (std::uint32_t seed = 1; seed <= 40; ++seed) {
    const Floor floor = test::random_floor(seed, {10 + seed, 6000});
    const Ways ways{floor};
    std::mt19937 random{seed};
    std::vector<bool> closed(ways.pose_count());
    for (std::size_t p = 0; p < closed.size(); ++p) closed[p] = random() % 10 == 0;
    const auto open = [&](PoseIx pose) { return !closed[pose.value]; };

    Graph graph(ways.pose_count());
    for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
      for (const Move& move : ways.moves_from(PoseIx{p})) {
        if (open(move.to)) boost::add_edge(p, move.to.value, move.time.count(), graph);
      }
    }
    for (int trial = 0; trial < 5; ++trial) {
      const PoseIx from{static_cast<std::uint32_t>(random() % ways.pose_count())};
      std::vector<std::int64_t> expected(ways.pose_count());
      boost::dijkstra_shortest_paths(
          graph, from.value,
          boost::distance_map(boost::make_iterator_property_map(
              expected.begin(), boost::get(boost::vertex_index, graph))));
      const std::vector<Duration> times = times_from(ways, from, open);
      ASSERT_EQ(times.size(), expected.size());
      for (std::uint32_t p = 0; p < times.size(); ++p) {
        const auto route = shortest_route(
            ways, from, [&](PoseIx pose) { return pose == PoseIx{p}; }, open);
        if (expected[p] == std::numeric_limits<std::int64_t>::max()) {
          ++not_reached;
          EXPECT_EQ(times[p], Duration::max());
          EXPECT_FALSE(route);
          continue;
        }
        ++reached;
        ASSERT_EQ(times[p], Duration{expected[p]}) << "seed " << seed << " pose " << p;
        ASSERT_TRUE(route);
        EXPECT_EQ(route->time, times[p]);
        Duration sum{0};
        for (std::size_t i = 1; i < route->steps.size(); ++i) {
          const Move* move = ways.find_move(route->steps[i - 1], route->steps[i]);
          ASSERT_NE(move, nullptr);
          sum += move->time;
        }
        EXPECT_EQ(sum, route->time);
      }
    }
  }
  EXPECT_GT(reached, 1000u);
  EXPECT_GT(not_reached, 100u);
}

}  // namespace
}  // namespace tagline::floor
