// The simulated cart as a whole: logic, body and its end of the link, with authorities made by
// hand.
#include "server/sim/virtual_cart.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "protocol/codec.hpp"
#include "tests/unit/sim/floors.hpp"

namespace tagline::sim::test {
namespace {

using testing::ElementsAre;

WorldOptions seeded(std::uint64_t seed, double miss_rate = 0) {
  WorldOptions options;
  options.seed = seed;
  options.miss_rate = miss_rate;
  return options;
}

TEST(VirtualCart, GreetsStandingOverItsTag) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, seeded(1)};
  VirtualCart cart{world, world.add_cart("cart-1", pose_at(ways, "P0")), {"cart-1", "k", "b1"}};
  world.step();
  EXPECT_TRUE(cart.poll().empty()) << "nothing before a connection";
  const protocol::Hello hello = cart.on_connected();
  EXPECT_EQ(hello.cart, "cart-1");
  EXPECT_EQ(hello.key, "k");
  EXPECT_EQ(hello.boot, "b1");
  EXPECT_EQ(hello.last_tag, floor[*floor.find_point("P0")].tags[0]);
  EXPECT_EQ(hello.step, 0u);
  EXPECT_EQ(hello.until, 0u);
  EXPECT_FALSE(hello.stopped);
  world.step();
  EXPECT_TRUE(cart.poll().empty()) << "nothing before Welcome";
  cart.receive(protocol::Welcome{0, 0});
  world.step();
  const auto first = cart.poll();
  ASSERT_EQ(first.size(), 1u);
  EXPECT_TRUE(std::holds_alternative<protocol::State>(first[0]));
}

TEST(VirtualCart, SendsStateEveryFiveSecondsAndOnChange) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  WorldOptions options = seeded(1);
  options.vary_carts = false;
  World world{ways, options};
  Linked linked{world, world.add_cart("cart-1", pose_at(ways, "P0"))};
  run(world, {&linked}, 20.5);
  EXPECT_EQ(linked.sent.size(), 5u) << "at once, after 5, 10, 15, 20 s";
  const std::size_t before = linked.sent.size();
  linked.cart.receive(authority(ways, way(ways, pose_at(ways, "P0"), {"P1"}), 1));
  run(world, {&linked}, 0.2);
  ASSERT_EQ(linked.sent.size(), before + 1);
  EXPECT_TRUE(std::get<protocol::State>(linked.sent.back()).moving);
}

/// Where a cart truly stands after stopping at the end of its authority, against the end's point.
struct Stand {
  double past{};
  protocol::Fault fault{};
  int missed{};
};

Stand drive_and_stop(const floor::Floor& floor, std::uint64_t seed, double miss_rate,
                     bool dead_tag) {
  const floor::Ways ways{floor};
  World world{ways, seeded(seed, miss_rate)};
  const PoseIx start = pose_at(ways, "P0");
  const PointIx end = *floor.find_point("P4");
  if (dead_tag) world.spoil_tags(end);
  Linked linked{world, world.add_cart("cart-1", start)};
  linked.cart.receive(authority(ways, way(ways, start, {"P1", "P2", "P3", "P4"}), 1));
  run(world, {&linked}, 60);
  EXPECT_EQ(world.truth(linked.cart.cart()).speed, 0);
  const auto past = world.past(linked.cart.cart(), end);
  const auto& state = linked.cart.logic();
  return {past.value_or(-1e9), static_cast<protocol::Fault>(static_cast<int>(state.fault())),
          linked.cart.logic().missed()};
}

TEST(VirtualCart, StopsWithin100MmOfTheEndOverManySeeds) {
  const floor::Floor floor = loop();
  int missed = 0;
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const Stand read = drive_and_stop(floor, seed, 0, false);
    EXPECT_LT(std::abs(read.past), 30) << "seed " << seed;
    EXPECT_EQ(read.fault, protocol::Fault::none) << "seed " << seed;
    // Tags on the way missed, and the end's tag dead: 2 to 9.6 m since the last tag.
    const Stand dead = drive_and_stop(floor, seed, 0.4, true);
    EXPECT_GT(dead.past, 0) << "seed " << seed;
    EXPECT_LT(dead.past, dead.missed == 0 ? 100 : 125) << "seed " << seed;
    EXPECT_EQ(dead.fault, protocol::Fault::overrun) << "seed " << seed;
    missed += dead.missed;
    const Stand poor = drive_and_stop(floor, seed, 0.4, false);
    EXPECT_GT(poor.past, -30) << "seed " << seed;
    EXPECT_LT(poor.past, 125) << "seed " << seed;
    missed += poor.missed;
  }
  EXPECT_GT(missed, 200) << "the faulty case was really seen";
}

TEST(VirtualCart, DrivesRoundWithTheAuthorityAlwaysAhead) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, seeded(3)};
  const PoseIx start = pose_at(ways, "P0");
  Linked linked{world, world.add_cart("cart-1", start)};
  std::vector<PoseIx> poses{start};
  const std::vector<std::string> round{"P1", "P2", "P3", "P4", "P5", "P6", "P7", "P0"};
  for (int i = 0; i < 5; ++i) {
    const auto more = way(ways, poses.back(), round);
    poses.insert(poses.end(), more.begin() + 1, more.end());
  }
  for (int i = 0; i < 50 * 300; ++i) {
    world.step();
    linked.step();
    // Six points ahead of the last one passed.
    const std::size_t at = linked.reads.empty() ? 0 : linked.reads.back() - 1;
    const std::size_t end = std::min(at + 6, poses.size() - 1);
    if (linked.cart.logic().until() < end + 1) {
      linked.cart.receive(authority(ways,
                                    {poses.begin() + static_cast<std::ptrdiff_t>(at),
                                     poses.begin() + static_cast<std::ptrdiff_t>(end) + 1},
                                    at + 1));
    }
  }
  ASSERT_EQ(linked.reads.size(), 40u);
  for (std::size_t i = 0; i < 40; ++i) EXPECT_EQ(linked.reads[i], i + 2);
  EXPECT_EQ(world.truth(linked.cart.cart()).speed, 0);
}

TEST(VirtualCart, TakesTheShortcutAndTheSpurAndComesBackOut) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  for (const double miss_rate : {0.0, 0.2}) {
    int arrived = 0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
      World world{ways, seeded(seed, 0)};
      const PoseIx start = pose_at(ways, "P0");
      Linked linked{world, world.add_cart("cart-1", start)};
      world.set_miss_rate(miss_rate);
      const auto poses =
          way(ways, start, {"P1", "P2", "P6", "P7", "P0", "P1", "P2", "P3", "P4", "E", "P4", "P5"});
      linked.cart.receive(
          authority(ways, poses, 1, {{1, protocol::Act::load}, {9, protocol::Act::unload}}));
      run(world, {&linked}, 240);
      const auto fault = linked.cart.logic().fault();
      // Only a miss where it had to halt may hold it up, and then it says so; never a wrong tag.
      EXPECT_TRUE(fault == cart::Fault::none || (miss_rate > 0 && fault == cart::Fault::overrun))
          << "seed " << seed << " fault " << static_cast<int>(fault);
      if (fault == cart::Fault::none) {
        ++arrived;
        EXPECT_EQ(linked.cart.logic().passed(), 13u) << "seed " << seed;
        EXPECT_LT(std::abs(*world.past(linked.cart.cart(), *floor.find_point("P5"))), 30);
        EXPECT_EQ(world.handled(), 2u);
      }
    }
    EXPECT_GE(arrived, miss_rate > 0 ? 30 : 40);
  }
}

TEST(VirtualCart, TurnsRoundAtTheEndsOfALine) {
  const floor::Floor floor = out_and_back();
  const floor::Ways ways{floor};
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    World world{ways, seeded(seed)};
    const PoseIx start = pose_at(ways, "B");
    Linked linked{world, world.add_cart("cart-1", start)};
    linked.cart.receive(authority(ways, way(ways, start, {"A", "B", "A", "B"}), 1));
    run(world, {&linked}, 120);
    EXPECT_THAT(linked.reads, ElementsAre(2, 3, 4, 5)) << "seed " << seed;
    EXPECT_EQ(linked.cart.logic().fault(), cart::Fault::none) << "seed " << seed;
    EXPECT_LT(std::abs(*world.past(linked.cart.cart(), *floor.find_point("B"))), 30);
    EXPECT_GT(world.truth(linked.cart.cart()).body.along.x, 0.99);
  }
}

TEST(VirtualCart, SendsAgainWhatWasNotTaken) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, seeded(5)};
  const PoseIx start = pose_at(ways, "P0");
  VirtualCart cart{world, world.add_cart("cart-1", start), {"cart-1", "k", "b1"}};
  cart.on_connected();
  cart.receive(protocol::Welcome{0, 0});
  cart.receive(authority(ways, way(ways, start, {"P1", "P2", "P3"}), 1));
  std::vector<protocol::Seq> sent, kept;
  const auto note = [&](const std::vector<protocol::CartMessage>& messages) {
    for (const auto& m : messages) {
      if (const auto* read = std::get_if<protocol::Read>(&m)) kept.push_back(read->seq);
      std::visit(
          [&](const auto& x) {
            if constexpr (requires { x.seq; }) sent.push_back(x.seq);
          },
          m);
    }
  };
  for (int i = 0; i < 50 * 8; ++i) {
    world.step();
    note(cart.poll());
  }
  ASSERT_GE(sent.size(), 3u);
  for (std::size_t i = 0; i < sent.size(); ++i) EXPECT_EQ(sent[i], i + 1) << "no gaps";
  cart.receive(protocol::Ack{1});
  cart.on_disconnected();
  const std::size_t open = cart.unacknowledged();
  EXPECT_EQ(open, kept.size()) << "states are not kept";
  for (int i = 0; i < 50 * 30; ++i) {
    world.step();
    EXPECT_TRUE(cart.poll().empty());
  }
  EXPECT_EQ(world.truth(cart.cart()).speed, 0) << "it stopped at its authority's end";
  const protocol::Hello hello = cart.on_connected();
  EXPECT_EQ(hello.step, 4u);
  EXPECT_EQ(hello.until, 4u);
  EXPECT_EQ(hello.boot, "b1");
  const protocol::Seq last = sent.back();
  sent.clear();
  cart.receive(protocol::Welcome{1, 0});
  world.step();
  const std::vector<protocol::CartMessage> again = cart.poll();
  const std::vector<protocol::Seq> before = kept;
  ASSERT_FALSE(before.empty());
  note(again);
  // All three reads, those of the time without a link too, in order and before anything new. The
  // old states are not kept; one fresh one closes.
  ASSERT_EQ(again.size(), 4u);
  for (std::size_t i = 0; i < 3; ++i) {
    ASSERT_TRUE(std::holds_alternative<protocol::Read>(again[i]));
    EXPECT_EQ(std::get<protocol::Read>(again[i]).step, i + 2);
  }
  EXPECT_TRUE(std::holds_alternative<protocol::State>(again[3]));
  EXPECT_THAT(sent, testing::IsSupersetOf(before)) << "with the numbers they had";
  EXPECT_TRUE(std::ranges::is_sorted(sent, std::less_equal<>{}) && sent.back() > last);
  cart.receive(protocol::Ack{sent.back()});
  EXPECT_EQ(cart.unacknowledged(), 0u);
}

TEST(VirtualCart, APowerCycleForgetsTheAuthority) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, seeded(5)};
  const PoseIx start = pose_at(ways, "P0");
  Linked linked{world, world.add_cart("cart-1", start)};
  linked.cart.receive(authority(ways, way(ways, start, {"P1", "P2", "P3"}), 1));
  run(world, {&linked}, 7);
  ASSERT_EQ(linked.cart.logic().passed(), 2u);
  linked.cart.power_cycle("boot-2");
  run(world, {&linked}, 5);
  EXPECT_EQ(world.truth(linked.cart.cart()).speed, 0);
  const protocol::Hello hello = linked.cart.on_connected();
  EXPECT_EQ(hello.boot, "boot-2");
  EXPECT_EQ(hello.step, 0u);
  EXPECT_EQ(hello.until, 0u);
  EXPECT_EQ(hello.last_tag, floor[*floor.find_point("P1")].tags[0]);
}

TEST(VirtualCart, AContactLatchesAStop) {
  const floor::Floor floor = line(6);
  const floor::Ways ways{floor};
  World world{ways, seeded(1)};
  Linked rear{world, world.add_cart("rear", pose_at(ways, "P1"))};
  Linked front{world, world.add_cart("front", pose_at(ways, "P2"))};
  rear.cart.receive(authority(ways, way(ways, pose_at(ways, "P1"), {"P2", "P3"}), 1));
  run(world, {&rear, &front}, 20);
  EXPECT_EQ(world.referee().contacts(), 1u);
  for (const Linked* cart : {&rear, &front}) {
    const auto stops = std::count_if(cart->sent.begin(), cart->sent.end(), [](const auto& m) {
      const auto* stop = std::get_if<protocol::Stop>(&m);
      return stop != nullptr && stop->cause == protocol::StopCause::bumper;
    });
    EXPECT_EQ(stops, 1);
    EXPECT_TRUE(cart->cart.logic().stopped_here());
  }
}

TEST(VirtualCart, ABlockedCartSaysSoAndGoesOn) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  World world{ways, seeded(1)};
  const PoseIx start = pose_at(ways, "P0");
  Linked linked{world, world.add_cart("cart-1", start)};
  linked.cart.receive(authority(ways, way(ways, start, {"P1", "P2"}), 1));
  run(world, {&linked}, 3);
  world.block(linked.cart.cart(), std::chrono::seconds{10});
  run(world, {&linked}, 5);
  EXPECT_EQ(world.truth(linked.cart.cart()).speed, 0);
  EXPECT_EQ(linked.cart.logic().fault(), cart::Fault::blocked);
  run(world, {&linked}, 25);
  EXPECT_EQ(linked.cart.logic().fault(), cart::Fault::none);
  EXPECT_EQ(linked.cart.logic().passed(), 3u);
}

std::string everything_said(std::uint64_t seed) {
  const floor::Floor floor = loop();
  const floor::Ways ways{floor};
  WorldOptions options = seeded(seed, 0.2);
  options.stalls_per_hour = 60;
  World world{ways, options};
  const PoseIx start = pose_at(ways, "P0");
  Linked linked{world, world.add_cart("cart-1", start)};
  linked.cart.receive(authority(ways,
                                way(ways, start, {"P1", "P2", "P3", "P4", "P5", "P6", "P7", "P0"}),
                                1, {{1, protocol::Act::load}}));
  std::string said;
  for (int i = 0; i < 50 * 180; ++i) {
    world.step();
    const std::size_t before = linked.sent.size();
    linked.step();
    for (std::size_t k = before; k < linked.sent.size(); ++k) {
      said += std::to_string(world.now().count()) + protocol::encode(linked.sent[k]) + "\n";
    }
  }
  return said;
}

TEST(VirtualCart, TheSameSeedSaysTheSameAtTheSameTimes) {
  const std::string first = everything_said(11);
  EXPECT_GT(first.size(), 500u);
  EXPECT_EQ(first, everything_said(11));
  EXPECT_NE(first, everything_said(12));
}

}  // namespace
}  // namespace tagline::sim::test
