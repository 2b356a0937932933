// Conflicts of small floors, worked out by hand. The cart of FloorBuilder: 600 x 400, reader 100
// behind the nose, clearance 100; stop_slack 150.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "tests/support/random_floor.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using test::Site;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;

TEST(Conflicts, OfAChainAreNone) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("B", 2000, 0)
                      .point("C", 4000, 0)
                      .point("D", 6000, 0)
                      .segment("S1", "A", "B")
                      .segment("S2", "B", "C")
                      .segment("S3", "C", "D")};
  EXPECT_THAT(site.all_conflicts(), IsEmpty());
}

/// Two straight lines side by side, `apart` mm from tape to tape.
FloorBuilder parallel(double apart) {
  FloorBuilder builder;
  for (const char* line : {"A", "B"}) {
    const double y = line[0] == 'A' ? 0 : apart;
    const std::string l{line};
    builder.point(l + "0", 0, y)
        .point(l + "1", 2000, y)
        .point(l + "2", 4000, y)
        .segment(l + "S1", l + "0", l + "1")
        .segment(l + "S2", l + "1", l + "2");
  }
  return builder;
}

TEST(Conflicts, OfParallelTapeStartBelowWidthPlusClearance) {
  EXPECT_THAT(Site{parallel(500)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{parallel(501)}.all_conflicts(), IsEmpty());
  // Who drives AS1 or AS2 holds A1 or A2: conflicts of the points keep all of them apart.
  EXPECT_THAT(Site{parallel(499)}.all_conflicts(), ElementsAre("A1-B1", "A2-B2"));
  FloorBuilder wide = parallel(499);
  wide.clearance(98);
  EXPECT_THAT(Site{wide}.all_conflicts(), IsEmpty());
}

TEST(Conflicts, OfParallelTapeHoldOnASlantToo) {
  // The same pair turned by 37 degrees: axis-parallel boxes overlap far and wide, bodies don't.
  const auto slanted = [](double apart) {
    const double a = 37 * std::numbers::pi / 180;
    FloorBuilder builder;
    const auto put = [&](const std::string& id, double along, double left) {
      builder.point(id, along * std::cos(a) - left * std::sin(a),
                    along * std::sin(a) + left * std::cos(a));
    };
    for (const char* line : {"A", "B"}) {
      const double left = line[0] == 'A' ? 0 : apart;
      const std::string l{line};
      put(l + "0", 0, left);
      put(l + "1", 2000, left);
      put(l + "2", 9000, left);
      builder.segment(l + "S1", l + "0", l + "1").segment(l + "S2", l + "1", l + "2");
    }
    return builder;
  };
  EXPECT_THAT(Site{slanted(500.01)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{slanted(499.9)}.all_conflicts(), ElementsAre("A1-B1", "A2-B2"));
}

TEST(Conflicts, OfTapeOneBehindTheOtherCountTheOverrun) {
  // A cart that stands at A2 has its nose up to 100 + 150 mm beyond it. B runs across, `gap_x`
  // beyond A2: its bodies reach 200 mm to the side, and want 100 mm free: 550 mm in all.
  const auto across = [](double gap_x) {
    FloorBuilder builder;
    builder.point("A0", 0, 0)
        .point("A1", 2000, 0)
        .point("A2", 4000, 0)
        .segment("AS1", "A0", "A1")
        .segment("AS2", "A1", "A2")
        .point("B0", 4000 + gap_x, -4000)
        .point("B1", 4000 + gap_x, -2000)
        .point("B2", 4000 + gap_x, 2000)
        .segment("BS1", "B0", "B1")
        .segment("BS2", "B1", "B2");
    return builder;
  };
  EXPECT_THAT(Site{across(550)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{across(549)}.all_conflicts(), ElementsAre("A2-BS2"));
  // From 400 on (100 + 200 + 100) a cart that just arrives fouls it as well; it holds A2 too.
  EXPECT_THAT(Site{across(399)}.all_conflicts(), ElementsAre("A2-BS2"));
}

TEST(Conflicts, OfTapesThatCrossWithoutACommonPoint) {
  const Site site{FloorBuilder{}
                      .point("W0", -4000, 0)
                      .point("W", -2000, 0)
                      .point("E", 2000, 0)
                      .point("S0", 0, -4000)
                      .point("S", 0, -2000)
                      .point("N", 0, 2000)
                      .segment("TW", "W0", "W")
                      .segment("TE", "W", "E")
                      .segment("TS", "S0", "S")
                      .segment("TN", "S", "N")};
  EXPECT_THAT(site.all_conflicts(), ElementsAre("TE-TN"));
}

TEST(Conflicts, OfTapesThatCrossCloseToAPoint) {
  // The crossing is 300 mm beyond W: a cart that stands at W fouls TN. Who drives to W or on from
  // it holds W as well, so that one conflict will do for all.
  const Site site{FloorBuilder{}
                      .point("W0", -4000, 0)
                      .point("W", -300, 0)
                      .point("E", 2000, 0)
                      .point("S0", 0, -4000)
                      .point("S", 0, -2000)
                      .point("N", 0, 2000)
                      .segment("TW", "W0", "W")
                      .segment("TE", "W", "E")
                      .segment("TS", "S0", "S")
                      .segment("TN", "S", "N")};
  EXPECT_THAT(site.all_conflicts(), ElementsAre("W-TN"));
}

TEST(Conflicts, BeforeAMergeBeginWhereTheTapesAreTooClose) {
  // Two parallel tapes 1000 mm apart, the lower one runs straight on, the upper one comes down
  // into M. Q and P are the last points before the merge.
  const auto merge = [](double p_before, double q_before) {
    FloorBuilder builder;
    builder.point("P0", -6000, 0)
        .point("P", -p_before, 0)
        .point("Q0", -6000, 1000)
        .point("Q", -q_before, 1000)
        .point("M", 0, 0)
        .point("N", 3000, 0)
        .segment("SP0", "P0", "P")
        .segment("SQ0", "Q0", "Q")
        .segment("SP", "P", "M")
        .segment("SQ", "Q", "M")
        .segment("SN", "M", "N");
    return builder;
  };
  // Far before the merge both may wait: M itself is what they share.
  const Site far_off{merge(3000, 3000)};
  EXPECT_THAT(far_off.all_conflicts(), IsEmpty());
  // P close to M: who stands there is in the way of those who come down from Q.
  const Site close{merge(400, 3000)};
  EXPECT_THAT(close.all_conflicts(), ElementsAre("P-M"));
}

TEST(Conflicts, BehindAForkHoldWhileATailIsInTheWay) {
  // L lies 700 mm behind F on its branch: a tail there ends up to 500 + 150 mm behind L, close to
  // F and to whoever takes the other branch.
  const auto fork = [](double l_behind) {
    FloorBuilder builder;
    builder.point("A0", -4000, 0)
        .point("A", -2000, 0)
        .point("F", 0, 0)
        .point("L", 0, l_behind)
        .point("R", 3000, 0)
        .segment("S0", "A0", "A")
        .segment("S", "A", "F")
        .segment("SL", "F", "L")
        .segment("SR", "F", "R");
    return builder;
  };
  // Reach is 850: at 900 F is no longer in the cover of L, but the tail is 250 mm from the tape
  // of S and SR, in the way of a body of 200 mm to the side, be it at F or on SR.
  const Site close{fork(900)};
  EXPECT_THAT(close.cover("L", "SL"), ElementsAre("L", "SL"));
  EXPECT_THAT(close.all_conflicts(), ElementsAre("F-L"));
  // For who drives on along SR, 650 mm of tail, 200 of body and 100 of clearance are clear at 950;
  // but a cart that stands at F may have begun to swing into SL with its front corner first.
  EXPECT_THAT(Site{fork(1000)}.all_conflicts(), ElementsAre("F-L"));
  EXPECT_THAT(Site{fork(1200)}.all_conflicts(), IsEmpty());
}

TEST(Conflicts, OfPointsTooCloseForTwoBodies) {
  // Two dead ends facing each other, `apart` mm from point to point; noses reach 250 mm each.
  const auto facing = [](double apart) {
    FloorBuilder builder;
    builder.point("A0", -4000, 0)
        .point("A1", -2000, 0)
        .point("A2", 0, 0)
        .segment("AS1", "A0", "A1")
        .segment("AS2", "A1", "A2")
        .point("B0", apart + 4000, 0)
        .point("B1", apart + 2000, 0)
        .point("B2", apart, 0)
        .segment("BS1", "B0", "B1")
        .segment("BS2", "B1", "B2");
    return builder;
  };
  EXPECT_THAT(Site{facing(600)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{facing(599)}.all_conflicts(), ElementsAre("A2-B2"));
}

TEST(Conflicts, OfTwoWayTapeNeedNoneOfItsOwn) {
  const Site site{FloorBuilder{}
                      .point("A0", -4000, 0)
                      .point("A", -2000, 0)
                      .point("B", 2000, 0)
                      .point("B0", 4000, 0)
                      .segment("S1", "A0", "A")
                      .two_way()
                      .segment("S2", "A", "B")
                      .two_way()
                      .segment("S3", "B", "B0")
                      .two_way()};
  EXPECT_THAT(site.all_conflicts(), IsEmpty()) << "both directions hold the same segment";
}

TEST(Conflicts, OfASpurConcernWhoPassesItsMouth) {
  const auto spur = [](double deep) {
    FloorBuilder builder;
    builder.point("A", -4000, 0)
        .point("B", -2000, 0)
        .point("M", 0, 0)
        .point("C", 3000, 0)
        .point("K", 0, -deep)
        .segment("S1", "A", "B")
        .segment("S2", "B", "M")
        .segment("S3", "M", "C")
        .segment("SP", "M", "K")
        .spur();
    return builder;
  };
  // M is in the cover of K while closer than the reach of 850. Beyond, as behind a fork.
  const Site shallow{spur(800)};
  EXPECT_THAT(shallow.cover("K", "SP"), ElementsAre("K", "M", "S2", "SP"));
  const Site middle{spur(900)};
  EXPECT_THAT(middle.cover("K", "SP"), ElementsAre("K", "SP"));
  EXPECT_THAT(middle.all_conflicts(), ElementsAre("M-K"));
  EXPECT_THAT(Site{spur(1200)}.all_conflicts(), IsEmpty());
}

TEST(Conflicts, OfTurningOnTheSpotAreRoundThePoint) {
  // Half the diagonal of 600 x 400 is 360.6; 200 of the other body and 100 of clearance: 660.6.
  // Standing or driving, the cart at T reaches only 200 to the side: 500.
  const auto turn_beside = [](double apart, bool turn_round) {
    FloorBuilder builder;
    builder.point("A", -2000, 0).point("T", 0, 0);
    if (turn_round) builder.turn_round();
    builder.point("Z", -4000, 0)
        .segment("S0", "Z", "A")
        .two_way()
        .segment("S1", "A", "T")
        .two_way()
        .point("B0", -6000, apart)
        .point("B1", -3000, apart)
        .point("B2", 3000, apart)
        .segment("BS1", "B0", "B1")
        .segment("BS2", "B1", "B2");
    return builder;
  };
  EXPECT_THAT(Site{turn_beside(650, false)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{turn_beside(670, true)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{turn_beside(650, true)}.all_conflicts(), ElementsAre("T-BS2"));
}

TEST(Conflicts, OfBodiesThatCutACorner) {
  // A long body reaches far over the inside of a right-angled corner.
  const auto bend = [](std::int64_t length) {
    FloorBuilder builder;
    builder.cart(length, 200)
        .point("A0", -6000, 0)
        .point("A1", -3000, 0)
        .point("A2", 0, 3000)
        .segment("AS1", "A0", "A1")
        .segment("AS2", "A1", "A2")
        .via({{0, 0}})
        // Comes down the diagonal towards the corner.
        .point("B0", -2900, 5000)
        .point("B1", -1800, 1800)
        .point("B2", -800, 800)
        .segment("BS1", "B0", "B1")
        .segment("BS2", "B1", "B2");
    return builder;
  };
  // B2's nose is up to 1131 - 250 = 881 mm from the corner, its ends 552 mm from both tapes.
  // The short cart's inner side comes as near as 250 / sqrt 2 + 100 = 277 mm to it, the long
  // one's 1150 / sqrt 2 + 100 = 913 mm.
  EXPECT_THAT(Site{bend(600)}.all_conflicts(), IsEmpty());
  EXPECT_THAT(Site{bend(2400)}.all_conflicts(), Contains("B2-AS2"));
}

TEST(Conflicts, OfTheFloorFileAreKept) {
  FloorBuilder builder = parallel(3000);
  builder.conflict("AS1", "BS2");
  EXPECT_THAT(Site{builder}.all_conflicts(), ElementsAre("AS1-BS2"));
  EXPECT_THAT(Site{builder}.conflicts("BS2"), ElementsAre("AS1"));
}

TEST(Conflicts, OfTapeNoWayLeadsToCountFromTheFirstMm) {
  // A cart set down anywhere on AS1 may be driven to A1.
  const Site site{FloorBuilder{}
                      .point("A0", 0, 0)
                      .point("A1", 4000, 0)
                      .segment("AS1", "A0", "A1")
                      .point("B0", 2000, -2000)
                      .point("B1", 2000, 2000)
                      .segment("BS1", "B0", "B1")};
  EXPECT_THAT(site.all_conflicts(), ElementsAre("AS1-BS1"));
}

TEST(Conflicts, AreSymmetricSortedAndNeverWithItself) {
  std::size_t pairs = 0;
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    const Site site{test::random_floor(seed)};
    for (std::uint32_t i = 0; i < site.track.piece_count(); ++i) {
      const auto of_i = site.track.conflicts(PieceIx{i});
      for (std::size_t k = 0; k < of_i.size(); ++k) {
        ASSERT_NE(of_i[k], PieceIx{i});
        if (k > 0) {
          ASSERT_LT(of_i[k - 1], of_i[k]);
        }
        const auto back = site.track.conflicts(of_i[k]);
        ASSERT_TRUE(std::binary_search(back.begin(), back.end(), PieceIx{i}));
        ++pairs;
      }
    }
  }
  EXPECT_GT(pairs, 200u);
}

TEST(Conflicts, AreTheSameEveryTime) {
  for (std::uint32_t seed = 1; seed <= 5; ++seed) {
    const Site once{test::random_floor(seed)};
    const Site again{test::random_floor(seed)};
    ASSERT_EQ(once.all_conflicts(), again.all_conflicts());
  }
}

}  // namespace
}  // namespace tagline::floor
