// The pose graph: poses and moves of small floors, worked out by hand.
#include "server/floor/ways.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/support/floor_builder.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::UnorderedElementsAre;

/// A floor with its ways, and words for poses: "B by S1", "A by S1 reversed",
/// "K by SP from B by S1".
struct NamedWays {
  explicit NamedWays(const FloorBuilder& builder) : floor{builder.build()}, ways{floor} {}

  [[nodiscard]] std::string name(PoseIx ix) const {
    const Pose& pose = ways[ix];
    std::string text = floor[pose.at].id + " by " + floor[pose.by].id;
    if (pose.reversed) text += " reversed";
    if (pose.entry) text += " from " + name(*pose.entry);
    return text;
  }
  [[nodiscard]] PoseIx pose(const std::string& wanted) const {
    for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
      if (name(PoseIx{p}) == wanted) return {p};
    }
    throw std::invalid_argument("no pose \"" + wanted + "\"");
  }
  /// Moves out as text: "C by S2", "(turn) ...", "(back) ...".
  [[nodiscard]] std::vector<std::string> out_of(const std::string& from) const {
    std::vector<std::string> result;
    for (const Move& move : ways.moves_from(pose(from))) {
      result.push_back((move.gear == Gear::back ? "(back) "
                        : move.turn_round       ? "(turn) "
                                                : "") +
                       name(move.to));
    }
    return result;
  }
  [[nodiscard]] const Move& move(const std::string& from, const std::string& to) const {
    const Move* found = ways.find_move(pose(from), pose(to));
    if (found == nullptr) throw std::invalid_argument("no move " + from + " -> " + to);
    return *found;
  }

  Floor floor;
  Ways ways;
};

TEST(Ways, OfAChainRunOneWay) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("C", 2000, 0)
                           .segment("S1", "A", "B")
                           .segment("S2", "B", "C")
                           .speed(250)};
  EXPECT_EQ(site.ways.pose_count(), 2u);
  EXPECT_THAT(site.out_of("B by S1"), ElementsAre("C by S2"));
  EXPECT_THAT(site.out_of("C by S2"), IsEmpty());
  const Move& move = site.move("B by S1", "C by S2");
  EXPECT_EQ(move.length, Mm{1000});
  EXPECT_EQ(move.time, Duration{4000});
  EXPECT_EQ(move.gear, Gear::forward);
  EXPECT_EQ(move.branch, Branch::straight);
  EXPECT_THAT(site.ways.poses_at(PointIx{0}), IsEmpty());
  EXPECT_THAT(site.ways.poses_at(PointIx{1}), ElementsAre(site.pose("B by S1")));
  EXPECT_EQ(site.ways.came_from(site.pose("C by S2")), PointIx{1});
  ASSERT_EQ(site.ways.moves_to(site.pose("C by S2")).size(), 1u);
  EXPECT_EQ(site.ways.moves_to(site.pose("C by S2"))[0].from, site.pose("B by S1"));
  EXPECT_EQ(site.ways.find_move(site.pose("C by S2"), site.pose("B by S1")), nullptr);
}

TEST(Ways, NeverDriveFasterThanTheSlowestCart) {
  FloorBuilder builder;
  builder.cart_speed(200)
      .point("A", 0, 0)
      .point("B", 1000, 0)
      .point("C", 2000, 0)
      .segment("S1", "A", "B")
      .segment("S2", "B", "C")
      .speed(900);
  const NamedWays site{builder};
  EXPECT_EQ(site.move("B by S1", "C by S2").time, Duration{5000});
}

TEST(Ways, OfTwoWayTapeHaveAPoseAtBothEnds) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("C", 2000, 0)
                           .segment("S1", "A", "B")
                           .two_way()
                           .segment("S2", "B", "C")
                           .two_way()};
  EXPECT_EQ(site.ways.pose_count(), 4u);
  EXPECT_THAT(site.out_of("B by S1"), ElementsAre("C by S2"));
  EXPECT_THAT(site.out_of("B by S2 reversed"), ElementsAre("A by S1 reversed"));
  EXPECT_THAT(site.out_of("C by S2"), IsEmpty()) << "straight back needs a turn-round point";
  EXPECT_EQ(site.ways.came_from(site.pose("A by S1 reversed")), PointIx{1});
}

TEST(Ways, TurnRoundOnlyWherePermitted) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .turn_round()
                           .segment("S1", "A", "B")
                           .two_way()};
  EXPECT_THAT(site.out_of("B by S1"), ElementsAre("(turn) A by S1 reversed"));
  const Move& move = site.move("B by S1", "A by S1 reversed");
  EXPECT_EQ(move.time, Duration{2500} + turn_round_time);
  EXPECT_EQ(move.branch, Branch::straight);
  EXPECT_THAT(site.out_of("A by S1 reversed"), IsEmpty());
}

TEST(Ways, ALoopOfOneSegmentIsNotStraightBack) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .segment("S1", "A", "A")
                           .via({{1000, 0}, {1000, 1000}, {0, 1000}})};
  EXPECT_THAT(site.out_of("A by S1"), ElementsAre("A by S1"));
}

/// S1 runs along x to B; S2 leaves at `degrees` to the left.
FloorBuilder corner(double degrees) {
  const double a = degrees * std::numbers::pi / 180;
  FloorBuilder builder;
  builder.point("A", -1000, 0)
      .point("B", 0, 0)
      .point("C", 1000 * std::cos(a), 1000 * std::sin(a))
      .segment("S1", "A", "B")
      .segment("S2", "B", "C");
  return builder;
}

TEST(Ways, EndAtACornerTooSharpToFollow) {
  EXPECT_THAT(NamedWays{corner(119)}.out_of("B by S1"), ElementsAre("C by S2"));
  EXPECT_THAT(NamedWays{corner(120)}.out_of("B by S1"), ElementsAre("C by S2"));
  EXPECT_THAT(NamedWays{corner(-119)}.out_of("B by S1"), ElementsAre("C by S2"));
  EXPECT_THAT(NamedWays{corner(121)}.out_of("B by S1"), IsEmpty());
  EXPECT_THAT(NamedWays{corner(-121)}.out_of("B by S1"), IsEmpty());
}

TEST(Ways, TurnOnTheSpotRoundASharpCorner) {
  FloorBuilder builder;
  builder.point("B", 0, 0)
      .turn_round()
      .point("A", -1000, 0)
      .point("C", -1000, 300)
      .segment("S1", "A", "B")
      .segment("S2", "B", "C");
  EXPECT_THAT(NamedWays{builder}.out_of("B by S1"), ElementsAre("(turn) C by S2"));
}

TEST(Ways, ACornerOfTheTapeEndCountsNotOfTheEndPoints) {
  // The points lie on one line, but S1 comes into B from above and S2 leaves upwards.
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("C", 2000, 0)
                           .segment("S1", "A", "B")
                           .via({{1000, 900}})
                           .segment("S2", "B", "C")
                           .via({{1000, 900}})};
  EXPECT_THAT(site.out_of("B by S1"), IsEmpty());
}

// ---- spurs -----------------------------------------------------------------------------------

TEST(Ways, IntoASpurComeBackToThePoseAtItsMouth) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("C", 2000, 0)
                           .point("K", 1000, 1000)
                           .segment("S1", "A", "B")
                           .segment("S2", "B", "C")
                           .segment("SP", "B", "K")
                           .spur()};
  EXPECT_EQ(site.ways.pose_count(), 3u);
  EXPECT_THAT(site.out_of("B by S1"), UnorderedElementsAre("C by S2", "K by SP from B by S1"));
  EXPECT_THAT(site.out_of("K by SP from B by S1"), ElementsAre("(back) B by S1"));
  const Move& back = site.move("K by SP from B by S1", "B by S1");
  EXPECT_EQ(back.segment, SegmentIx{2});
  EXPECT_EQ(back.time, Duration{2500});
  EXPECT_EQ(back.branch, Branch::straight);
  EXPECT_EQ(site.ways.came_from(site.pose("K by SP from B by S1")), PointIx{1});
}

TEST(Ways, ASpurEndHasOnePosePerWayIntoItsMouth) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("C", 2000, 0)
                           .point("D", 1000, -1000)
                           .point("K", 1000, 1000)
                           .segment("S1", "A", "B")
                           .segment("S2", "C", "B")
                           .segment("S3", "D", "B")
                           .segment("SP", "B", "K")
                           .spur()};
  EXPECT_EQ(site.ways.poses_at(PointIx{4}).size(), 3u);
  for (const char* entry : {"B by S1", "B by S2", "B by S3"}) {
    const std::string end = "K by SP from " + std::string{entry};
    EXPECT_THAT(site.out_of(entry), ElementsAre(end));
    EXPECT_THAT(site.out_of(end), ElementsAre("(back) " + std::string{entry}));
    EXPECT_EQ(site.ways.moves_to(site.pose(end)).size(), 1u);
  }
}

TEST(Ways, IntoAChainOfSpursComeBackStepByStep) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("K", 2000, 0)
                           .point("L", 3000, 0)
                           .segment("S1", "A", "B")
                           .segment("SP2", "K", "L")
                           .spur()
                           .segment("SP1", "B", "K")
                           .spur()};
  EXPECT_THAT(site.out_of("B by S1"), ElementsAre("K by SP1 from B by S1"));
  EXPECT_THAT(site.out_of("K by SP1 from B by S1"),
              UnorderedElementsAre("(back) B by S1", "L by SP2 from K by SP1 from B by S1"));
  EXPECT_THAT(site.out_of("L by SP2 from K by SP1 from B by S1"),
              ElementsAre("(back) K by SP1 from B by S1"));
}

TEST(Ways, OutOfASpurNeverLeadOnByPlainTapeNorInByATurn) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .turn_round()
                           .point("K", 2000, 0)
                           .point("C", 3000, 0)
                           .point("BEHIND", 0, 200)
                           .segment("S1", "A", "B")
                           .segment("SP", "B", "K")
                           .spur()
                           .segment("S2", "K", "C")
                           .segment("SHARP", "B", "BEHIND")
                           .spur()};
  EXPECT_THAT(site.out_of("K by SP from B by S1"), ElementsAre("(back) B by S1"));
  EXPECT_THAT(site.out_of("B by S1"), ElementsAre("K by SP from B by S1"));
}

TEST(Ways, EndOnSpursThatBiteTheirTail) {
  const NamedWays site{FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 1000, 0)
                           .point("K", 2000, 0)
                           .segment("S1", "A", "B")
                           .segment("SP1", "B", "K")
                           .spur()
                           .segment("SP2", "K", "B")
                           .via({{2500, 500}, {1000, 1000}})
                           .spur()};
  EXPECT_EQ(site.ways.pose_count(), 3u);
}

// ---- branches --------------------------------------------------------------------------------

/// A fork at B with one tape out per angle (degrees, left positive), named T0, T1, ...
FloorBuilder fork(const std::vector<double>& angles) {
  FloorBuilder builder;
  builder.point("A", -1000, 0).point("B", 0, 0).segment("IN", "A", "B");
  for (std::size_t i = 0; i < angles.size(); ++i) {
    const double a = angles[i] * std::numbers::pi / 180;
    builder.point("E" + std::to_string(i), 1000 * std::cos(a), 1000 * std::sin(a))
        .segment("T" + std::to_string(i), "B", "E" + std::to_string(i));
  }
  return builder;
}

std::vector<Branch> branches_of(const FloorBuilder& builder, std::size_t count) {
  const NamedWays site{builder};
  std::vector<Branch> result;
  for (std::size_t i = 0; i < count; ++i) {
    result.push_back(
        site.move("B by IN", "E" + std::to_string(i) + " by T" + std::to_string(i)).branch);
  }
  return result;
}

std::vector<Branch> branches_at(const std::vector<double>& angles) {
  return branches_of(fork(angles), angles.size());
}

constexpr Branch L = Branch::left;
constexpr Branch S = Branch::straight;
constexpr Branch R = Branch::right;

TEST(Branches, OfASingleTapeFollowItsBend) {
  EXPECT_THAT(branches_at({0}), ElementsAre(S));
  EXPECT_THAT(branches_at({10}), ElementsAre(S));
  EXPECT_THAT(branches_at({90}), ElementsAre(L));
  EXPECT_THAT(branches_at({-45}), ElementsAre(R));
}

TEST(Branches, FollowTheAngles) {
  EXPECT_THAT(branches_at({90, 0, -90}), ElementsAre(L, S, R));
  EXPECT_THAT(branches_at({-90, 90}), ElementsAre(R, L));
  EXPECT_THAT(branches_at({0, -30}), ElementsAre(S, R));
  EXPECT_THAT(branches_at({25, -25}), ElementsAre(L, R));
}

TEST(Branches, DifferAtAForkHoweverAlikeTheTapes) {
  EXPECT_THAT(branches_at({0, 10}), ElementsAre(S, L));
  EXPECT_THAT(branches_at({0, -10}), ElementsAre(S, R));
  EXPECT_THAT(branches_at({5, 15}), ElementsAre(S, L));
  EXPECT_THAT(branches_at({80, 70}), ElementsAre(L, S));
  EXPECT_THAT(branches_at({-70, -80}), ElementsAre(S, R));
  EXPECT_THAT(branches_at({30, 90, 60}), ElementsAre(R, L, S));
  EXPECT_THAT(branches_at({0, 5, -5}), ElementsAre(S, L, R));
}

TEST(Branches, OfAllForksOfUpToThreeDifferAndRunFromLeftToRight) {
  for (double a = -115; a <= 115; a += 11.5) {
    for (double b = -115; b < a; b += 11.5) {
      const auto two = branches_at({a, b});
      EXPECT_LT(two[0], two[1]) << a << " and " << b;
      for (double c = -115; c < b; c += 11.5) {
        EXPECT_THAT(branches_at({a, b, c}), ElementsAre(L, S, R)) << a << " " << b << " " << c;
      }
    }
  }
}

TEST(Branches, AreOverriddenByTheFloorFileAndTheOthersKeepClear) {
  const auto with_turn = [](const std::vector<double>& angles, Branch of_last) {
    FloorBuilder builder = fork(angles);
    builder.turn(of_last);
    return branches_of(builder, angles.size());
  };
  EXPECT_THAT(with_turn({90, 0}, R), ElementsAre(L, R));
  EXPECT_THAT(with_turn({0, 20}, S), ElementsAre(R, S));
  EXPECT_THAT(with_turn({-80}, S), ElementsAre(S));
}

TEST(Branches, OfTwoWayTapeAreThoseOfTheDirectionDriven) {
  // T runs from E to B; a cart that leaves B on it turns left. Its override is for E only.
  FloorBuilder builder;
  builder.point("A", -1000, 0)
      .point("B", 0, 0)
      .point("C", 1000, 0)
      .point("E", 0, 1000)
      .segment("IN", "A", "B")
      .segment("ON", "B", "C")
      .segment("T", "E", "B")
      .two_way()
      .turn(R);
  const NamedWays site{builder};
  EXPECT_EQ(site.move("B by IN", "E by T reversed").branch, L);
  EXPECT_EQ(site.move("B by IN", "C by ON").branch, S);
  EXPECT_EQ(site.move("B by T", "C by ON").branch, L);
}

TEST(Branches, AfterAHalfTurnAreSeenTheOtherWayRound) {
  // From B, two ways back: the tape it came by, and one that ends 20 degrees beside it.
  FloorBuilder builder;
  const double a = 160 * std::numbers::pi / 180;
  builder.point("B", 0, 0)
      .turn_round()
      .point("A", -1000, 0)
      .point("E", 1000 * std::cos(a), 1000 * std::sin(a))
      .segment("S1", "A", "B")
      .two_way()
      .segment("S2", "B", "E");
  const NamedWays site{builder};
  EXPECT_EQ(site.move("B by S1", "A by S1 reversed").branch, S);
  // Facing back along -x, the tape at 160 degrees lies 20 degrees to the right.
  EXPECT_EQ(site.move("B by S1", "E by S2").branch, R);
}

}  // namespace
}  // namespace tagline::floor
