// The guard refuses every proposal that would break I1, I2 or I5, and the planner finds orders.
#include "server/traffic/guard.hpp"

#include <gtest/gtest.h>

#include "server/traffic/planner.hpp"
#include "server/traffic/turns_by_trial.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::traffic {
namespace {

/// A floor with its tables, and steps written as point ids.
struct Works {
  explicit Works(floor::Floor f) : floor(std::move(f)), ways(floor), track(ways) {}

  PoseIx pose(const std::string& at, const std::string& from) const {
    for (const PoseIx pose : ways.poses_at(*floor.find_point(at))) {
      if (floor[ways.came_from(pose)].id == from) return pose;
    }
    throw std::invalid_argument("no pose at " + at + " from " + from);
  }
  /// The first id only says where the cart came from.
  std::vector<PoseIx> steps(const std::vector<std::string>& ids) const {
    std::vector<PoseIx> result;
    for (std::size_t i = 1; i < ids.size(); ++i) result.push_back(pose(ids[i], ids[i - 1]));
    return result;
  }

  floor::Floor floor;
  floor::Ways ways;
  floor::Track track;
};

constexpr CartIx one{0};
constexpr CartIx two{1};

TEST(Guard, RefusesTrackThatAnotherCartHolds) {
  const Works works(test::loop_with_bay());
  Guard guard(works.track, 2);
  ASSERT_FALSE(guard.place(one, {works.steps({"A", "B", "C", "D", "H1"}), 0}, {one, one, one}));
  ASSERT_FALSE(
      guard.place(two, {works.steps({"B", "C", "D", "H2"}), 0}, {two, two, one, one, one}));
  const auto refused = guard.grant(one, 1, {two, two, one, one});
  ASSERT_TRUE(refused);
  EXPECT_EQ(refused->kind, Obstacle::Kind::held);
  EXPECT_EQ(refused->by, two);
  EXPECT_EQ(works.track.name(refused->piece), "C");
  EXPECT_EQ(guard.itinerary(one)->authority, 0u) << "a refused proposal must change nothing";
  guard.assert_invariants();
}

TEST(Guard, RefusesTrackThatConflictsWithAnotherCartsTrack) {
  // Two tapes that cross without a common point.
  const Works works(test::figure_of_eight());
  Guard guard(works.track, 2);
  ASSERT_FALSE(guard.place(one, {works.steps({"A", "B", "C", "D", "E", "S1"}), 0}, Order(4, one)));
  Order order(4, one);
  order.insert(order.end(), 4, two);
  ASSERT_FALSE(guard.place(two, {works.steps({"G", "H", "I", "J", "K", "S2"}), 0}, order));
  ASSERT_FALSE(
      guard.grant(one, 1, find_order(guard, one, {guard.itinerary(one)->steps, 1}).value()));
  const auto refused = guard.grant(two, 1, Order{one, one, one, two, two, two});
  ASSERT_TRUE(refused);
  EXPECT_EQ(refused->kind, Obstacle::Kind::held);
  EXPECT_EQ(works.track.name(refused->piece), "HI");
  guard.passed(one, 1);
  EXPECT_TRUE(guard.grant(two, 1, Order{one, one, one, two, two, two})) << "its tail lies on BC";
  ASSERT_FALSE(guard.grant(one, 1, Order{one, one, two, two, two, two}));
  guard.passed(one, 1);
  EXPECT_FALSE(guard.grant(two, 1, Order{one, one, two, two, two})) << "at D it is clear";
}

TEST(Guard, FreesTrackOnlyWhenATagShowsThatTheTailHasCleared) {
  const Works works(test::loop_with_bay());
  Guard guard(works.track, 1);
  ASSERT_FALSE(guard.place(one, {works.steps({"A", "B", "C", "D", "H1"}), 0}, {one, one, one}));
  ASSERT_FALSE(guard.grant(one, 2, {one}));
  const auto holds = [&](const std::string& name) {
    for (const PieceIx piece : guard.holdings(one)) {
      if (works.track.name(piece) == name) return true;
    }
    return false;
  };
  EXPECT_TRUE(holds("B") && holds("BC") && holds("C") && holds("CD") && holds("D"));
  guard.passed(one, 1);
  // The segments are 2 m, the cart is 0.6 m: at C its tail is clear of B but still on BC.
  EXPECT_FALSE(holds("B"));
  EXPECT_TRUE(holds("BC") && holds("C") && holds("CD") && holds("D"));
  EXPECT_THROW(guard.passed(one, 2), std::logic_error) << "beyond its authority";
}

TEST(Guard, RefusesAGrantThatWouldLockTwoCartsIn) {
  // Both want through the corridor to the kiln and back. Once one of them is in, the other must
  // stay out until it has come back past Q.
  const Works works(test::corridor());
  Guard guard(works.track, 2);
  const auto in = works.steps({"Q", "R", "T", "R", "Q", "C", "D", "E", "H1"});
  ASSERT_FALSE(guard.place(one, {in, 0}, Order(7, one)));
  const auto behind = works.steps({"A", "B", "Q", "R", "T", "R", "Q", "C", "D", "E", "H2"});
  const auto order = find_order(guard, two, {behind, 0});
  ASSERT_TRUE(order);
  ASSERT_FALSE(guard.place(two, {behind, 0}, *order));
  ASSERT_FALSE(guard.grant(one, 1, find_order(guard, one, {in, 1}).value()));
  guard.passed(one, 1);  // now in T, which it leaves by R and Q

  // Q is free, but a cart standing there bars the way out of the corridor.
  std::vector<PieceIx> q(works.track.cover(behind[1]).begin(), works.track.cover(behind[1]).end());
  ASSERT_FALSE(guard.obstacle(two, q));
  EXPECT_FALSE(find_order(guard, two, {behind, 1}));
  for (const Order& any : {Order(guard.order()), Order(8, two), Order{}}) {
    const auto refused = guard.grant(two, 1, any);
    ASSERT_TRUE(refused);
    EXPECT_EQ(refused->kind, Obstacle::Kind::no_way_out);
  }
  EXPECT_EQ(propose_grant(guard, two, 1).obstacle->by, one) << "whose turn it is";
}

TEST(Guard, RefusesStepsThatDoNotJoin) {
  const Works works(test::loop_with_bay());
  Guard guard(works.track, 1);
  auto jump = works.steps({"A", "B", "C"});
  jump.push_back(works.pose("F", "E"));
  EXPECT_EQ(guard.place(one, {jump, 0}, {one, one})->kind, Obstacle::Kind::malformed);
  EXPECT_EQ(guard.place(one, {{}, 0}, {})->kind, Obstacle::Kind::malformed);
  EXPECT_EQ(guard.place(one, {works.steps({"A", "B"}), 1}, {})->kind, Obstacle::Kind::malformed);
  EXPECT_EQ(guard.grant(one, 1, {})->kind, Obstacle::Kind::malformed) << "not on the floor";
}

TEST(Guard, ACartInDoubtKeepsWhatItHeldAndNobodyIsLetThere) {
  const Works works(test::loop_with_bay());
  Guard guard(works.track, 2);
  ASSERT_FALSE(guard.place(one, {works.steps({"B", "C", "D", "H1"}), 0}, {one, one}));
  ASSERT_FALSE(guard.place(two, {works.steps({"H", "A", "B", "C", "D", "H2"}), 0},
                           {one, one, two, two, two, two}));
  const PieceIx e = works.track.piece(*works.floor.find_point("E"));
  guard.lost(one, std::array{e});
  EXPECT_EQ(guard.itinerary(one), nullptr);
  EXPECT_TRUE(guard.in_doubt(one));
  guard.assert_invariants();
  EXPECT_TRUE(guard.obstacle(two, std::array{e}));
  EXPECT_FALSE(guard.grant(two, 1, {two, two, two})) << "B is free";
  EXPECT_EQ(guard.grant(two, 1, {two, two})->kind, Obstacle::Kind::held) << "C isn't";
  guard.remove(one);
  EXPECT_FALSE(guard.grant(two, 1, {two, two}));
}

TEST(Guard, TrackIsGivenInTheOrderOfTurns) {
  // Both want into F, the one from E, the other through the shortcut. Cart 1 is first in the order.
  const Works works(test::loop_with_shortcut());
  Guard guard(works.track, 2);
  const auto main_way = works.steps({"D", "E", "F", "G", "H", "K1"});
  const auto shortcut = works.steps({"C", "X", "F", "G", "H", "K2"});
  ASSERT_FALSE(guard.place(one, {main_way, 0}, Order(4, one)));
  Order order(4, one);
  order.insert(order.end(), 4, two);
  ASSERT_FALSE(guard.place(two, {shortcut, 0}, order));
  const auto waits = propose_grant(guard, two, 1);
  EXPECT_EQ(waits.count, 0u);
  ASSERT_TRUE(waits.obstacle);
  EXPECT_EQ(waits.obstacle->kind, Obstacle::Kind::turn);
  EXPECT_EQ(waits.obstacle->by, one);
  EXPECT_EQ(guard.grant(two, 1)->kind, Obstacle::Kind::turn) << "the guard, whatever is proposed";
  // With other turns it may go first, and then the other one waits.
  Order other(4, two);
  other.insert(other.end(), 4, one);
  ASSERT_FALSE(guard.reroute(two, std::span(shortcut).subspan(1), other));
  EXPECT_FALSE(guard.grant(two, 1));
  const auto refused = guard.grant(one, 1);
  ASSERT_TRUE(refused);
  EXPECT_EQ(refused->by, two);
  guard.assert_invariants();
}

TEST(Guard, SeveralCartsMayBeReplannedAtOnceOrNoneIs) {
  const Works works(test::loop_with_shortcut());
  Guard guard(works.track, 2);
  const auto main_way = works.steps({"D", "E", "F", "G", "H", "K1"});
  const auto shortcut = works.steps({"C", "X", "F", "G", "H", "K2"});
  ASSERT_FALSE(guard.place(one, {main_way, 0}, Order(4, one)));
  Order order(4, one);
  order.insert(order.end(), 4, two);
  ASSERT_FALSE(guard.place(two, {shortcut, 0}, order));
  const std::vector<PoseIx> tail_one(main_way.begin() + 1, main_way.end());
  const std::vector<PoseIx> tail_two(shortcut.begin() + 1, shortcut.end());
  // In step through F: both would be there at once.
  const std::vector<Change> clash{{one, tail_one, {1, 3, 5, 7}}, {two, tail_two, {2, 4, 6, 8}}};
  EXPECT_EQ(guard.replan(clash)->kind, Obstacle::Kind::no_way_out);
  EXPECT_EQ(guard.ranks(one)[1], 0) << "refused whole";
  const std::vector<Change> falling{{one, tail_one, {4, 3, 5, 7}}};
  EXPECT_EQ(guard.replan(falling)->kind, Obstacle::Kind::malformed);
  const std::vector<Change> two_first{{one, tail_one, {5, 6, 7, 8}}, {two, tail_two, {1, 2, 3, 4}}};
  EXPECT_FALSE(guard.replan(two_first));
  EXPECT_EQ(guard.order(), (Order{two, two, two, two, one, one, one, one}));
  guard.assert_invariants();
}

}  // namespace
}  // namespace tagline::traffic
