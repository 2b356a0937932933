// The live limit: counted by hand on small floors.
#include "server/traffic/capacity.hpp"

#include <gtest/gtest.h>

#include "server/traffic/moving_on.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::traffic {
namespace {

LiveLimit limit_of(const floor::Floor& floor) {
  const floor::Ways ways(floor);
  return live_limit(floor::Track(ways));
}

TEST(LiveLimit, OneCartForEachSidingWhereNoneCutsAnotherOff) {
  for (const floor::Floor& floor : test::small_floors()) {
    std::size_t sidings = 0;
    for (const auto& point : floor.points) sidings += point.siding ? 1 : 0;
    const LiveLimit limit = limit_of(floor);
    EXPECT_EQ(limit.rests.size(), sidings) << floor.name << ": " << limit.reason;
    EXPECT_GE(limit.carts, sidings);
    EXPECT_FALSE(limit.moving_on(sidings));
  }
}

TEST(LiveLimit, ASidingThatBarsTheOnlyWayCountsForNoSecondCart) {
  // A loop with two points that are called sidings, both on the only way round: a cart resting on
  // one of them bars the other's.
  test::FloorBuilder b;
  b.name("Loop with false sidings");
  b.point("A", 0, 0).point("B", 3000, 0).siding().point("C", 3000, 3000);
  b.point("D", 0, 3000).siding();
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D").segment("DA", "D", "A");
  b.station("CAST", "A").station("DRY", "C");
  const LiveLimit limit = limit_of(b.build());
  EXPECT_EQ(limit.rests.size(), 1u) << limit.reason;
  EXPECT_TRUE(limit.moving_on(2));
}

TEST(LiveLimit, APlainLoopLivesWithOneCartFewerThanFillIt) {
  // Ten points, 2 m and more apart. A cart keeps its point and the segment behind it, so it can
  // stand at each point with another one at the next: ten carts fill the loop, and then nobody can
  // move; of nine, the one behind the gap can.
  const LiveLimit limit = limit_of(test::plain_loop());
  EXPECT_TRUE(limit.rests.empty());
  EXPECT_TRUE(limit.moving_on(1));
  EXPECT_EQ(limit.carts, 9u) << limit.reason;
}

TEST(LiveLimit, ADeadEndLocksTwoCartsIn) {
  // One cart in the spur and one before its mouth want past each other: without sidings, only one.
  test::FloorBuilder b;
  b.name("Loop with a spur and no siding");
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 3000, 3000).point("D", 0, 3000);
  b.point("K", 6000, 0);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D").segment("DA", "D", "A");
  b.segment("BK", "B", "K").spur();
  b.station("CAST", "A").station("KILN", "K");
  EXPECT_EQ(limit_of(b.build()).carts, 1u);
}

TEST(LiveLimit, TheFewestInAJamAreInOne) {
  // The jam is looked for again, by trying all placements of so many carts and of one fewer.
  const floor::Floor floor = test::plain_loop();
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  const auto jammed = [&](std::size_t carts) {
    std::vector<PoseIx> chosen;
    const auto all_stand = [&] {
      return std::ranges::all_of(chosen, [&](PoseIx pose) {
        return std::ranges::all_of(ways.moves_from(pose), [&](const floor::Move& move) {
          return std::ranges::any_of(
              chosen, [&](PoseIx other) { return other != pose && track.clash(move.to, other); });
        });
      });
    };
    const auto choose = [&](auto&& self, std::uint32_t from) -> bool {
      if (chosen.size() == carts) return all_stand();
      for (std::uint32_t p = from; p < ways.pose_count(); ++p) {
        if (std::ranges::any_of(chosen, [&](PoseIx c) { return track.clash(c, {p}); })) continue;
        chosen.push_back({p});
        if (self(self, p + 1)) return true;
        chosen.pop_back();
      }
      return false;
    };
    return choose(choose, 0);
  };
  const auto fewest = fewest_in_a_jam(track);
  ASSERT_TRUE(fewest);
  EXPECT_TRUE(jammed(*fewest));
  for (std::size_t carts = 2; carts < *fewest; ++carts) EXPECT_FALSE(jammed(carts)) << carts;
}

}  // namespace
}  // namespace tagline::traffic
