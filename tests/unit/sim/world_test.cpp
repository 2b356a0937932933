// Physics against kinematics, and the world's mishaps.
#include "server/sim/world.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/unit/sim/floors.hpp"

namespace tagline::sim::test {
namespace {

WorldOptions plain() {
  WorldOptions options;
  options.vary_carts = false;
  return options;
}

Command go(double speed, floor::Branch branch = floor::Branch::straight) {
  Command command;
  command.speed = speed;
  command.branch = branch;
  return command;
}

void steps(World& world, int n) {
  for (int i = 0; i < n; ++i) world.step();
}

TEST(World, AcceleratesAndBrakesByTheBook) {
  // Distance at constant acceleration v^2 / 2a; time v / a; stopping distance v t + v^2 / 2a
  // (kinematics; ../shared/check-values.md).
  const floor::Floor floor = line(10);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  world.command(cart, go(400));
  steps(world, 50);  // 1 s at 300 mm/s2
  EXPECT_NEAR(world.truth(cart).driven, 150, 1e-9);
  EXPECT_NEAR(world.truth(cart).speed, 300, 1e-9);
  steps(world, 50);  // full speed is reached after 4/3 s and 400^2 / 600 mm
  EXPECT_NEAR(world.truth(cart).driven, 400.0 * 400 / 600 + 400 * (2 - 4.0 / 3), 1e-9);
  const double before = world.truth(cart).driven;
  steps(world, 10);  // reaction time 0.2 s
  world.command(cart, go(0));
  steps(world, 100);
  EXPECT_NEAR(world.truth(cart).driven - before, 400 * 0.2 + 400.0 * 400 / (2 * 600), 1e-9);
  EXPECT_EQ(world.truth(cart).speed, 0);
}

TEST(World, TheBodyTrailsBehindTheReader) {
  const floor::Floor floor = line(3);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  const Truth truth = world.truth(cart);
  // Reader at x = 2000, nose 100 ahead, length 600: from 1500 to 2100.
  EXPECT_NEAR(truth.reader.x, 2000, 1e-9);
  EXPECT_NEAR(truth.body.centre.x, 1800, 1e-9);
  EXPECT_NEAR(truth.body.centre.y, 0, 1e-9);
  EXPECT_NEAR(truth.body.along.x, 1, 1e-9);
}

TEST(World, ReadsEachTagInItsWindowOnly) {
  const floor::Floor floor = line(4);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  world.command(cart, go(400));
  std::vector<std::string> tags;
  for (int i = 0; i < 600; ++i) {
    world.step();
    for (const std::string& tag : world.sensed(cart).tags) {
      const auto point = floor.find_tag(tag);
      ASSERT_TRUE(point);
      ASSERT_TRUE(world.past(cart, *point));
      EXPECT_LE(std::abs(*world.past(cart, *point)), 25);
      if (tags.empty() || tags.back() != tag) tags.push_back(tag);
    }
  }
  EXPECT_EQ(tags, (std::vector<std::string>{"04B00001", "04B00002", "04B00003"}));
}

TEST(World, MissesPassesAtTheRateAsked) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  WorldOptions options = plain();
  options.miss_rate = 0.1;
  World world{ways, options};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P0"));
  world.command(cart, go(400));
  std::string last;
  int passes_read = 0;
  for (int i = 0; i < 50 * 3600 * 4; ++i) {
    world.step();
    for (const std::string& tag : world.sensed(cart).tags) {
      if (tag != last) ++passes_read;
      last = tag;
    }
  }
  double loop_length = 0;
  for (std::size_t s = 0; s < 8; ++s)
    loop_length += static_cast<double>(floor.segments[s].length.value);
  const double passes = world.truth(cart).driven / loop_length * 8;
  ASSERT_GT(passes, 2000);
  // Binomial: three standard deviations of the share read.
  EXPECT_NEAR(passes_read / passes, 0.9, 3 * std::sqrt(0.9 * 0.1 / passes));
}

TEST(World, TakesTheBranchCommanded) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  const PoseIx start = pose_at(ways, "P1");
  for (const char* wanted : {"P3", "P6"}) {
    const PoseIx fork = way(ways, start, {"P2"}).back();
    const PoseIx to = way(ways, fork, {wanted}).back();
    World world{ways, plain()};
    const CartIx cart = world.add_cart("c", start);
    world.command(cart, go(400, ways.find_move(fork, to)->branch));
    steps(world, 50 * 8);
    EXPECT_EQ(world.truth(cart).segment, ways[to].by) << wanted;
  }
}

TEST(World, TheOdometerDiffersAsTheCartsDo) {
  const floor::Floor floor = line(30);
  const floor::Ways ways{floor};
  WorldOptions options;
  options.seed = 7;
  World world{ways, options};
  double least = 2;
  double most = 0;
  for (int i = 0; i < 20; ++i) {
    const CartIx cart = world.add_cart("c" + std::to_string(i), pose_at(ways, "P1"));
    world.command(cart, go(400));
  }
  steps(world, 50 * 100);
  for (std::uint32_t i = 0; i < 20; ++i) {
    const double factor = world.sensed({i}).odometer / world.truth({i}).driven;
    least = std::min(least, factor);
    most = std::max(most, factor);
  }
  EXPECT_GE(least, 0.9949);
  EXPECT_LE(most, 1.0051);
  EXPECT_GT(most - least, 0.005);
}

TEST(World, ABodyRunningIntoAnotherIsAContactBothFeel) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx rear = world.add_cart("rear", pose_at(ways, "P1"));
  const CartIx front = world.add_cart("front", pose_at(ways, "P2"));
  world.command(rear, go(400));
  bool felt = false;
  for (int i = 0; i < 500 && !felt; ++i) {
    world.step();
    felt = world.sensed(rear).bumper && world.sensed(front).bumper;
  }
  EXPECT_TRUE(felt);
  EXPECT_EQ(world.referee().contacts(), 1u);
  // 2000 mm from reader to reader: the rear nose (100 ahead) meets the front tail (500 behind).
  EXPECT_NEAR(world.truth(rear).driven, 1400, 8.01);
}

TEST(World, MeasuresTheGapOfAPassByExactly) {
  // Two straight tapes 470 mm apart, bodies 400 wide: 70 mm.
  FloorMaker make;
  const PointIx a = make.point("A", 0, 0);
  const PointIx b = make.point("B", 6000, 0);
  const PointIx c = make.point("C", 6000, 470);
  const PointIx d = make.point("D", 0, 470);
  make.segment(a, b);
  make.segment(c, d);
  const floor::Ways ways{make.floor};
  World world{ways, plain()};
  const CartIx one = world.add_cart("one", pose_at(ways, "B"));
  const CartIx two = world.add_cart("two", pose_at(ways, "D"));
  world.put_down(one, pose_at(ways, "B"), -5000);
  world.put_down(two, pose_at(ways, "D"), -5000);
  world.command(one, go(400));
  world.command(two, go(400));
  steps(world, 50 * 12);
  EXPECT_EQ(world.referee().contacts(), 0u);
  EXPECT_NEAR(world.referee().least_gap(), 70, 1e-6);
}

TEST(World, CountsLoadsWhereTheyAreHandledAndWhatCannotBe) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  const PointIx there = *floor.find_point("P1");
  const auto handle = [&](Handling what) {
    Command command;
    command.handling = what;
    world.command(cart, command);
    steps(world, 50 * 40);
    world.command(cart, {});
    steps(world, 1);
  };
  handle(Handling::load);
  handle(Handling::unload);
  EXPECT_EQ(world.handled_amiss(), 0u);
  handle(Handling::unload);  // nothing is on
  EXPECT_EQ(world.handled_amiss(), 1u);
  handle(Handling::load);
  handle(Handling::load);  // one is on already
  EXPECT_EQ(world.handled_amiss(), 2u);
  ASSERT_EQ(world.handled_at().size(), 1u);
  EXPECT_EQ(world.handled_at().at(there).loaded, 3u);
  EXPECT_EQ(world.handled_at().at(there).unloaded, 2u);
  EXPECT_EQ(world.handled(), 5u);
}

TEST(World, APersonHandlesTheLoadAtOnceAndOnlyOnce) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  world.handled_by_hand(cart);
  EXPECT_EQ(world.handled(), 0u) << "it asks for nothing";
  Command load;
  load.handling = Handling::load;
  world.command(cart, load);
  steps(world, 1);
  world.handled_by_hand(cart);
  EXPECT_EQ(world.handled(), 1u);
  EXPECT_EQ(world.handled_at().at(*floor.find_point("P1")).loaded, 1u);
  world.handled_by_hand(cart);
  steps(world, 50 * 40);
  EXPECT_EQ(world.handled(), 1u) << "neither said twice nor done by itself besides";
  EXPECT_EQ(world.handled_amiss(), 0u);
}

TEST(World, KnowsTheTagsACartCanBePushedTo) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P1"));
  EXPECT_EQ(world.pushed(cart, World::Push::ahead), pose_at(ways, "P1"));
  EXPECT_EQ(world.pushed(cart, World::Push::behind), std::nullopt);
  world.command(cart, go(400));
  steps(world, 100);
  EXPECT_EQ(world.pushed(cart, World::Push::ahead), pose_at(ways, "P2"));
  EXPECT_EQ(world.pushed(cart, World::Push::behind), pose_at(ways, "P1"));
}

TEST(World, ALiftedCartIsNoBodyAndStandsWhereItIsPut) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx rear = world.add_cart("rear", pose_at(ways, "P1"));
  const CartIx front = world.add_cart("front", pose_at(ways, "P2"));
  world.lift_away(front);
  EXPECT_FALSE(world.truth(front).on_floor);
  world.command(rear, go(400));
  steps(world, 500);
  EXPECT_EQ(world.referee().contacts(), 0u);
  world.put_down(front, pose_at(ways, "P1"), 30);
  EXPECT_NEAR(world.truth(front).reader.x, 2030, 1e-9);
}

TEST(World, DrainsByDrivingAndChargesAtACharger) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", pose_at(ways, "P5"));
  world.set_battery(cart, 20);
  steps(world, 50 * 60 * 9);  // 9 of 90 minutes: 10 % in, 0.15 % out
  EXPECT_NEAR(world.sensed(cart).battery, 29.8, 0.9);
  world.command(cart, go(400));
  steps(world, 50 * 3600);
  const int left = world.sensed(cart).battery;
  EXPECT_NEAR(left, 29.8 - 1 - world.truth(cart).driven / 90'000, 1.1);
  world.set_battery(cart, 0);
  steps(world, 100);
  EXPECT_EQ(world.truth(cart).speed, 0) << "a flat cart does not move";
}

TEST(World, TurnsAboutItsMiddleInTheTimeOfTheWays) {
  const floor::Floor floor = out_and_back();
  const floor::Ways ways{floor};
  PoseIx at_b{};
  for (const PoseIx pose : ways.poses_at(*floor.find_point("B"))) at_b = pose;
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", at_b);
  world.put_down(cart, at_b, 200);  // its middle over B
  const Truth before = world.truth(cart);
  EXPECT_NEAR(before.body.centre.x, 4000, 1e-6);
  Command command;
  command.turn = true;
  world.command(cart, command);
  double seconds = 0;
  while (!world.sensed(cart).turned && seconds < 20) {
    world.step();
    seconds += 0.02;
    EXPECT_NEAR(world.truth(cart).body.centre.x, 4000, 1e-6);
    EXPECT_NEAR(world.truth(cart).body.centre.y, 0, 1e-6);
  }
  EXPECT_NEAR(seconds, static_cast<double>(floor::turn_round_time.count()) / 1000, 0.05);
  const Truth after = world.truth(cart);
  EXPECT_NEAR(after.body.along.x, -1, 1e-9);
  EXPECT_NEAR(after.reader.x, 3800, 1e-6);
  EXPECT_NEAR(after.along, 200, 1e-6);
}

TEST(World, BacksOutOfASpurByItsOwnTrail) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  const PoseIx mouth = pose_at(ways, "P4");
  const PoseIx end = way(ways, mouth, {"E"}).back();
  World world{ways, plain()};
  const CartIx cart = world.add_cart("c", end);
  const Truth there = world.truth(cart);
  EXPECT_NEAR(there.reader.x, 2600, 1e-6);
  Command command = go(200);
  command.gear = floor::Gear::back;
  world.command(cart, command);
  const double spur = static_cast<double>(floor[ways[end].by].length.value);
  for (int i = 0; i < 5000 && world.truth(cart).driven < spur; ++i) world.step();
  const Truth out = world.truth(cart);
  EXPECT_NEAR(out.reader.x, 5000, 10);
  EXPECT_NEAR(out.reader.y, 4000, 10);
  EXPECT_EQ(out.segment, ways[mouth].by) << "its body lies on the tape it came by";
  EXPECT_LT(world.sensed(cart).odometer, 0);
}

}  // namespace
}  // namespace tagline::sim::test
