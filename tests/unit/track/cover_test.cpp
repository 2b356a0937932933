// Covers of small floors, worked out by hand. Reach: 600 + 100 + 150 = 850 mm with the cart of
// FloorBuilder.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/support/random_floor.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using test::Site;
using testing::ElementsAre;

/// P0 -> P1 -> ... along x, segments S1, S2, ... of the given lengths.
FloorBuilder chain(const std::vector<double>& lengths) {
  FloorBuilder builder;
  double x = 0;
  builder.point("P0", x, 0);
  for (std::size_t i = 1; i <= lengths.size(); ++i) {
    x += lengths[i - 1];
    const std::string n = std::to_string(i);
    builder.point("P" + n, x, 0).segment("S" + n, "P" + std::to_string(i - 1), "P" + n);
  }
  return builder;
}

TEST(Pieces, ArePointsThenSegments) {
  const Site site{chain({1000, 1000})};
  EXPECT_EQ(site.track.piece_count(), 5u);
  EXPECT_EQ(site.track.name(site.track.piece(PointIx{2})), "P2");
  EXPECT_EQ(site.track.name(site.track.piece(SegmentIx{0})), "S1");
  EXPECT_TRUE(site.track.is_point(PieceIx{2}));
  EXPECT_FALSE(site.track.is_point(PieceIx{3}));
}

TEST(Cover, OfALongSegmentIsPointAndSegment) {
  const Site site{chain({1000, 1000})};
  EXPECT_THAT(site.cover("P1", "S1"), ElementsAre("P1", "S1"));
  EXPECT_THAT(site.cover("P2", "S2"), ElementsAre("P2", "S2"));
}

TEST(Cover, ReachesBehindAPointCloserThanTheReach) {
  const Site just_closer{chain({1000, 849})};
  EXPECT_THAT(just_closer.cover("P2", "S2"), ElementsAre("P1", "P2", "S1", "S2"));
  const Site as_far{chain({1000, 850})};
  EXPECT_THAT(as_far.cover("P2", "S2"), ElementsAre("P2", "S2"));
}

TEST(Cover, OfACartLongerThanItsSegments) {
  const Site site{chain({300, 300, 300, 300, 300})};
  // 300 and 600 are closer than 850; 900 is not, but S3, which leads into P3 at 600, counts.
  EXPECT_THAT(site.cover("P5", "S5"), ElementsAre("P3", "P4", "P5", "S3", "S4", "S5"));
  EXPECT_THAT(site.cover("P1", "S1"), ElementsAre("P0", "P1", "S1"));
}

TEST(Cover, GrowsWithTheCart) {
  FloorBuilder builder = chain({1000, 1000, 1000});
  builder.cart(2000, 400);  // reach 2250
  EXPECT_THAT(Site{builder}.cover("P3", "S3"), ElementsAre("P1", "P2", "P3", "S1", "S2", "S3"));
}

/// A and B merge in M, 500 mm before N.
FloorBuilder merge() {
  FloorBuilder builder;
  builder.point("A", -2000, 1000)
      .point("B", -2000, -1000)
      .point("M", 0, 0)
      .point("N", 500, 0)
      .segment("SA", "A", "M")
      .segment("SB", "B", "M")
      .segment("SN", "M", "N");
  return builder;
}

TEST(Cover, JustAfterAMergeTakesAllWaysBehind) {
  const Site site{merge()};
  EXPECT_THAT(site.cover("N", "SN"), ElementsAre("M", "N", "SA", "SB", "SN"));
  EXPECT_THAT(site.cover("M", "SA"), ElementsAre("M", "SA"));
}

TEST(Cover, IgnoresWaysNoCartCanHaveCome) {
  // SC comes into M from ahead: too sharp a corner to drive on to N.
  FloorBuilder builder = merge();
  builder.point("C", 2000, 600).segment("SC", "C", "M");
  EXPECT_THAT(Site{builder}.cover("N", "SN"), ElementsAre("M", "N", "SA", "SB", "SN"));
}

TEST(Cover, JustAfterAForkLeavesTheOtherBranchFree) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("F", 2000, 0)
                      .point("L", 2400, 300)
                      .point("R", 2400, -300)
                      .segment("S", "A", "F")
                      .segment("SL", "F", "L")
                      .segment("SR", "F", "R")};
  EXPECT_THAT(site.cover("L", "SL"), ElementsAre("F", "L", "S", "SL"));
}

TEST(Cover, OfTwoWayTapeFollowsTheDirectionDriven) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("B", 500, 0)
                      .point("C", 1000, 0)
                      .segment("S1", "A", "B")
                      .two_way()
                      .segment("S2", "B", "C")
                      .two_way()};
  EXPECT_THAT(site.cover("C", "S2"), ElementsAre("B", "C", "S1", "S2"));
  EXPECT_THAT(site.cover("A", "S1", true), ElementsAre("A", "B", "S1", "S2"));
  EXPECT_THAT(site.cover("B", "S1"), ElementsAre("A", "B", "S1"));
}

TEST(Cover, InASpurFollowsTheWayIn) {
  FloorBuilder builder = merge();
  builder.point("K", 0, 600).segment("SP", "M", "K").spur();
  const Site site{builder};
  EXPECT_THAT(site.cover("K", "SP", false, "SA"), ElementsAre("K", "M", "SA", "SP"));
  EXPECT_THAT(site.cover("K", "SP", false, "SB"), ElementsAre("K", "M", "SB", "SP"));
  // Backing out puts nobody in N: its cover is as without the spur.
  EXPECT_THAT(site.cover("N", "SN"), ElementsAre("M", "N", "SA", "SB", "SN"));
}

TEST(Cover, InAChainOfSpursFollowsTheWayIn) {
  FloorBuilder builder = merge();
  builder.point("K", 0, 400)
      .point("L", 0, 800)
      .segment("SP1", "M", "K")
      .spur()
      .segment("SP2", "K", "L")
      .spur();
  const Site site{builder};
  std::vector<std::vector<std::string>> covers;
  for (const PoseIx pose : site.ways.poses_at(site.floor.segments.back().to)) {
    covers.push_back(site.names(site.track.cover(pose)));
  }
  EXPECT_THAT(covers,
              testing::UnorderedElementsAre(ElementsAre("K", "L", "M", "SA", "SP1", "SP2"),
                                            ElementsAre("K", "L", "M", "SB", "SP1", "SP2")));
}

TEST(Cover, EndsWhereTheCartTurnedOnTheSpot) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("B", 500, 0)
                      .turn_round()
                      .point("C", 2500, 0)
                      .segment("S1", "A", "B")
                      .two_way()
                      .segment("S2", "C", "B")};
  // To A by S1 reversed: straight on from C, or turned at B having come by S1 (of no concern).
  EXPECT_THAT(site.cover("A", "S1", true), ElementsAre("A", "B", "S1", "S2"));
  const Site turned_only{FloorBuilder{}
                             .point("Z", -500, 0)
                             .point("A", 0, 0)
                             .point("B", 500, 0)
                             .turn_round()
                             .segment("S0", "Z", "A")
                             .segment("S1", "A", "B")
                             .two_way()};
  EXPECT_THAT(turned_only.cover("A", "S1", true), ElementsAre("A", "B", "S1"));
}

TEST(Cover, IsSortedAndWithoutDuplicatesOnAnyFloor) {
  std::size_t looked_at = 0;
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    const Site site{test::random_floor(seed)};
    for (std::uint32_t p = 0; p < site.ways.pose_count(); ++p) {
      const auto cover = site.track.cover(PoseIx{p});
      ASSERT_GE(cover.size(), 2u);
      for (std::size_t i = 1; i < cover.size(); ++i) ASSERT_LT(cover[i - 1], cover[i]);
      ++looked_at;
    }
  }
  EXPECT_GT(looked_at, 300u);
}

}  // namespace
}  // namespace tagline::floor
