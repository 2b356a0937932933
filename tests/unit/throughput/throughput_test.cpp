// The bound on deliveries per hour: cases worked out by hand, the empty travel against GLPK, least
// times against drives taken in small steps, and carts under the holding rule that come close to
// the track bound and never beat it.
#include "server/dispatch/throughput.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "server/dispatch/free_way.hpp"
#include "server/floor/file.hpp"
#include "tests/support/random_floor.hpp"
#include "tests/support/small_floors.hpp"
#include "tests/unit/throughput/least_drive.hpp"
#include "tests/unit/throughput/linear_program.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::dispatch {
namespace {

using test::FloorBuilder;
using test::Site;
using ::testing::HasSubstr;
using ::testing::ThrowsMessage;

constexpr double setting_off = 400.0 / 600;  // v / 2a, s, of the usual cart at 400 mm/s
constexpr double stopping = 400.0 / 1200;    // v / 2d

/// One way round a square of 10 m.
FloorBuilder square() {
  FloorBuilder builder;
  builder.point("A", 0, 0).point("B", 10'000, 0).point("C", 10'000, 10'000).point("D", 0, 10'000);
  builder.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  builder.segment("DA", "D", "A");
  return builder;
}

TEST(Throughput, OfOneFlowRoundASquareByHand) {
  const Site site{square().station("CAST", "A").station("DRY", "B").demand("CAST", "DRY", 12)};
  const Throughput one = throughput_bound(site.track, flows_of(site.floor), 1);
  // 10 m loaded and 30 m empty at 400 mm/s, each from stand to stand; 15 s to load and to unload.
  EXPECT_NEAR(one.loaded_s, 25 + setting_off + stopping, 1e-4);
  EXPECT_NEAR(one.empty_s, 75 + setting_off + stopping, 1e-4);
  EXPECT_NEAR(one.handling_s, 30, 1e-9);
  EXPECT_NEAR(one.fleet_per_hour, 3600.0 / 132, 1e-3);
  // B can only be passed on: it is held while a cart drives from A to it, is unloaded, and drives
  // on until it reads C. (A is held from D to A, while loading, and from A to B: 1/3 s less.)
  EXPECT_NEAR(one.busiest_s, 26 + 15 + 25 + setting_off, 1e-4);
  ASSERT_TRUE(one.busiest);
  EXPECT_EQ(site.track.name(*one.busiest), "B");
  EXPECT_NEAR(one.track_per_hour, 3600 / one.busiest_s, 1e-9);
  EXPECT_EQ(one.per_hour, one.fleet_per_hour);

  const Throughput four = throughput_bound(site.track, flows_of(site.floor), 4);
  EXPECT_NEAR(four.fleet_per_hour, 4 * one.fleet_per_hour, 1e-9);
  EXPECT_EQ(four.per_hour, four.track_per_hour);
}

TEST(Throughput, OfFlowsBothWaysNeedsNoEmptyTravel) {
  const Site site{square()
                      .station("CAST", "A")
                      .station("DRY", "C")
                      .demand("CAST", "DRY", 1)
                      .demand("DRY", "CAST", 1)};
  const Throughput bound = throughput_bound(site.track, flows_of(site.floor), 1);
  EXPECT_NEAR(bound.empty_s, 0, 1e-9);
  EXPECT_NEAR(bound.loaded_s, 51, 1e-4);
  EXPECT_NEAR(bound.fleet_per_hour, 3600.0 / 81, 1e-3);
}

TEST(Throughput, WeighsFlowsByTheirShare) {
  // Three of four loads go A -> B (26 s), one A -> C (51 s).
  const Site site{square()
                      .station("CAST", "A")
                      .station("DRY", "B")
                      .station("PACK", "C")
                      .demand("CAST", "DRY", 3)
                      .demand("CAST", "PACK", 1)};
  const Throughput bound = throughput_bound(site.track, flows_of(site.floor), 1);
  EXPECT_NEAR(bound.loaded_s, 0.75 * 26 + 0.25 * 51, 1e-4);
  EXPECT_NEAR(bound.empty_s, 0.75 * 76 + 0.25 * 51, 1e-4);
}

TEST(Throughput, OfStationsAtOnePointCountsBothThere) {
  // Loads from A to two stations at C: C is held for the unloading of all of them.
  const auto with = [](Duration unload) {
    return Site{square()
                    .station("CAST", "A")
                    .handling(Duration{0}, Duration{0})
                    .station("DRY", "C")
                    .handling(Duration{0}, unload)
                    .station("WET", "C")
                    .handling(Duration{0}, unload)
                    .demand("CAST", "DRY", 1)
                    .demand("CAST", "WET", 1)
                    .build()};
  };
  const Site short_stop = with(Duration{10'000});
  const Site long_stop = with(Duration{70'000});
  const auto bound = [](const Site& site) {
    return throughput_bound(site.track, flows_of(site.floor), 1);
  };
  EXPECT_NEAR(bound(long_stop).busiest_s - bound(short_stop).busiest_s, 60, 1e-6);
  EXPECT_EQ(long_stop.track.name(*bound(long_stop).busiest), "C");
}

TEST(Throughput, WithoutDemandTakesEveryPair) {
  const Site site{square().station("CAST", "A").station("DRY", "B").station("PACK", "C")};
  const auto flows = flows_of(site.floor);
  EXPECT_EQ(flows.size(), 6U);
  for (const Flow& flow : flows) EXPECT_EQ(flow.share, 1);
  EXPECT_GT(throughput_bound(site.track, flows, 1).per_hour, 0);
}

TEST(Throughput, SaysWhatCantBe) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("B", 2000, 0)
                      .point("C", 4000, 0)
                      .segment("AB", "A", "B")
                      .segment("BC", "B", "C")
                      .station("CAST", "B")
                      .station("DRY", "C")};
  const StationIx cast{0};
  const StationIx dry{1};
  const auto bound = [&](std::vector<Flow> flows) {
    return [&site, flows = std::move(flows)] { throughput_bound(site.track, flows, 1); };
  };
  EXPECT_THAT(bound({{dry, cast, 1}}),
              ThrowsMessage<std::invalid_argument>(HasSubstr("from \"DRY\" to \"CAST\"")));
  // The load arrives, but the cart can't come back for the next one.
  EXPECT_THAT(bound({{cast, dry, 1}}),
              ThrowsMessage<std::invalid_argument>(HasSubstr("\"DRY\" to where loads begin")));
  EXPECT_THROW(throughput_bound(site.track, {}, 1), std::invalid_argument);
  EXPECT_THROW(throughput_bound(site.track, {{cast, dry, -1}}, 1), std::invalid_argument);
}

/// The empty travel as a linear program over stations, without any of the short cuts taken.
double glpk_empty(const Site& site, const std::vector<Flow>& flows) {
  const FreeWay way{site.ways};
  const std::size_t n = site.floor.stations.size();
  TransportProblem problem;
  problem.supply.assign(n, 0);
  problem.demand.assign(n, 0);
  double total = 0;
  for (const Flow& flow : flows) {
    const auto units = static_cast<std::int64_t>(std::llround(flow.share * 1000));
    problem.supply[flow.to.value] += units;
    problem.demand[flow.from.value] += units;
    total += static_cast<double>(units);
  }
  for (const floor::Station& from : site.floor.stations) {
    const auto times = way.from(site.ways.poses_at(from.point));
    auto& row = problem.cost.emplace_back();
    for (const floor::Station& to : site.floor.stations) {
      double least = no_way;
      for (const PoseIx pose : site.ways.poses_at(to.point)) {
        least = std::min(least, times[pose.value]);
      }
      row.emplace_back(std::llround(least * 1e6));
    }
  }
  return test::glpk_least_cost(problem).value() / 1e6 / total;
}

TEST(Throughput, EmptyTravelIsGlpksOptimum) {
  std::mt19937 random{11};
  for (const floor::Floor& floor : test::small_floors()) {
    const Site site{floor};
    for (int round = 0; round < 10; ++round) {
      std::vector<Flow> flows = flows_of(site.floor);
      for (Flow& flow : flows) {
        flow.share = std::uniform_int_distribution<int>{0, 3}(random);
      }
      flows.front().share += 1;
      EXPECT_NEAR(throughput_bound(site.track, flows, 1).empty_s, glpk_empty(site, flows), 1e-3)
          << floor.name;
    }
  }
}

TEST(Throughput, OfTheDemoWorks) {
  const auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  const Site site{std::get<floor::Floor>(loaded)};
  const auto flows = flows_of(site.floor);
  const Throughput bound = throughput_bound(site.track, flows, 5);
  EXPECT_NEAR(bound.empty_s, glpk_empty(site, flows), 1e-3);
  EXPECT_NEAR(bound.handling_s, 35, 1e-9);  // 20 s and 15 s everywhere
  // More than the demand of 40 an hour with the 5 carts, and no more than by speed alone.
  EXPECT_GT(bound.per_hour, 40);
  EXPECT_LT(bound.fleet_per_hour, 182);
  RecordProperty("fleet_per_hour", std::to_string(bound.fleet_per_hour));
  RecordProperty("track_per_hour", std::to_string(bound.track_per_hour));
}

TEST(FreeWay, IsNeverAboveTheLeastDriveAlongAnyRoute) {
  int compared = 0;
  int equal = 0;
  for (std::uint32_t seed = 1; seed <= 12; ++seed) {
    floor::Floor floor = test::random_floor(seed, {12, 4000});
    std::mt19937 random{seed};
    for (floor::Segment& segment : floor.segments) {
      segment.speed = MmPerS{std::uniform_int_distribution<int>{150, 400}(random)};
    }
    const Site site{std::move(floor)};
    const FreeWay way{site.ways};
    for (std::uint32_t p = 0; p < site.ways.pose_count(); p += 3) {
      const PoseIx start{p};
      const std::vector<PoseIx> starts{start};
      const auto times = way.from(starts);
      for (std::uint32_t q = 0; q < site.ways.pose_count(); q += 2) {
        const auto route = floor::shortest_route(
            site.ways, start, [&](PoseIx pose) { return pose == PoseIx{q}; },
            [](PoseIx) { return true; });
        ASSERT_EQ(route.has_value(), times[q] < no_way);
        if (!route || route->steps.size() < 2) continue;
        // Parts between halts; turns through half a circle at most.
        double least = 0;
        double most_turns = 0;
        std::vector<test::Stretch> part;
        const auto halt = [&] {
          if (!part.empty()) least += test::least_drive(part, site.floor.cart);
          part.clear();
        };
        floor::Gear gear{};
        for (std::size_t i = 1; i < route->steps.size(); ++i) {
          const floor::Move& m = *site.ways.find_move(route->steps[i - 1], route->steps[i]);
          if (i > 1 && (m.gear != gear || m.turn_round)) halt();
          gear = m.gear;
          if (m.turn_round) most_turns += 6;
          const auto limit = std::min(site.floor[m.segment].speed, site.floor.cart.speed);
          part.push_back({static_cast<double>(m.length.value), static_cast<double>(limit.value)});
        }
        halt();
        EXPECT_LE(times[q], least + most_turns + 1e-6) << seed;
        ++compared;
        if (std::abs(times[q] - least) < 1e-3) ++equal;
      }
    }
  }
  EXPECT_GT(compared, 300);
  EXPECT_GT(equal, compared / 10);
}

TEST(FreeWay, TurnsAndReversingByHand) {
  // Into a dead-end room and round: 2 m, turn through half a circle, 2 m back.
  const Site room{FloorBuilder{}
                      .point("O", -2000, 0)
                      .point("A", 0, 0)
                      .point("B", 2000, 0)
                      .turn_round()
                      .segment("OA", "O", "A")
                      .segment("AB", "A", "B")
                      .two_way()};
  const std::vector<PoseIx> at_a{room.ways.poses_at({1})[0]};  // came by OA
  const auto times = FreeWay{room.ways}.from(at_a);
  const PoseIx back{room.ways.poses_at({1})[1]};
  EXPECT_NEAR(times[back.value], 2 * 6 + 6, 1e-6);  // 5 s and 1 s of ramps each way
  // Into a spur and back out of it, halting at its end and, before going on, at its mouth.
  const Site spur{FloorBuilder{}
                      .point("O", -2000, 0)
                      .point("A", 0, 0)
                      .point("B", 2000, 0)
                      .point("K", 0, 2000)
                      .segment("OA", "O", "A")
                      .segment("AB", "A", "B")
                      .segment("AK", "A", "K")
                      .spur()};
  const std::vector<PoseIx> at_k{spur.ways.poses_at({3})[0]};
  EXPECT_NEAR(FreeWay{spur.ways}.from(at_k)[spur.ways.poses_at({2})[0].value], 12, 1e-6);
}

/// Carts going round a one-way loop, A to B loaded, as fast as the holding rule lets them: a cart
/// holds the covers of the pose it left and the one it drives to, and gives the first up when it
/// reads the second. Returns deliveries per hour over `hours`.
double go_round(const Site& site, std::size_t carts, int hours) {
  std::vector<PoseIx> loop;
  for (PoseIx pose = site.ways.poses_at({0}).front();;) {
    loop.push_back(pose);
    pose = site.ways.moves_from(pose).front().to;
    if (pose == loop.front()) break;
  }
  struct Cart {
    std::size_t at{};     // index into the loop of the last pose read
    bool driving{false};  // to the next one
    double until{};
  };
  std::vector<Cart> fleet;
  for (std::size_t i = 0; i < carts; ++i) fleet.push_back({2 * i % loop.size(), false, 0});
  const auto free = [&](std::size_t cart, PoseIx pose) {
    for (std::size_t other = 0; other < carts; ++other) {
      if (other == cart) continue;
      if (site.track.clash(loop[fleet[other].at], pose)) return false;
      if (fleet[other].driving &&
          site.track.clash(loop[(fleet[other].at + 1) % loop.size()], pose)) {
        return false;
      }
    }
    return true;
  };
  double delivered = 0;
  double now = 0;
  while (now < hours * 3600.0) {
    bool moved = true;
    while (moved) {
      moved = false;
      for (std::size_t i = 0; i < carts; ++i) {
        Cart& cart = fleet[i];
        if (cart.until > now) continue;
        if (cart.driving) {
          cart.driving = false;
          cart.at = (cart.at + 1) % loop.size();
          const PointIx here = site.ways[loop[cart.at]].at;
          for (const floor::Station& station : site.floor.stations) {
            if (station.point != here) continue;
            cart.until = now + 15;
            if (station.id == "DRY") delivered += 1;
          }
          moved = true;
        } else if (free(i, loop[(cart.at + 1) % loop.size()])) {
          const floor::Move& move = site.ways.moves_from(loop[cart.at]).front();
          cart.driving = true;
          cart.until = now + static_cast<double>(move.length.value) / 400;
          moved = true;
        }
      }
    }
    double next = hours * 3600.0;
    for (const Cart& cart : fleet) {
      if (cart.until > now) next = std::min(next, cart.until);
    }
    now = next;
  }
  return delivered / hours;
}

TEST(Throughput, TrackBoundIsReachedAndNotBeatenUnderTheHoldingRule) {
  FloorBuilder builder;
  for (int i = 0; i < 12; ++i) {
    const double x = i < 6 ? 2000.0 * i : 2000.0 * (11 - i);
    builder.point("P" + std::to_string(i), x, i < 6 ? 0 : 6000);
  }
  for (int i = 0; i < 12; ++i) {
    builder.segment("S" + std::to_string(i), "P" + std::to_string(i),
                    "P" + std::to_string((i + 1) % 12));
  }
  builder.station("CAST", "P2").station("DRY", "P8").demand("CAST", "DRY", 1);
  floor::Floor floor = builder.build();
  // Ramps of no account, so that carts that start and stop at once lose nothing against the bound.
  floor.cart.acceleration = MmPerS2{10'000};
  floor.cart.deceleration = MmPerS2{10'000};
  const Site site{std::move(floor)};
  bool track_binds = false;
  for (std::size_t carts = 1; carts <= 5; ++carts) {
    const Throughput bound = throughput_bound(site.track, flows_of(site.floor), carts);
    const double got = go_round(site, carts, 50);
    EXPECT_LT(got, bound.per_hour * 1.01) << carts;
    EXPECT_GT(got, bound.per_hour * (carts < 3 ? 0.97 : 0.85)) << carts;
    track_binds = track_binds || bound.per_hour < bound.fleet_per_hour;
  }
  EXPECT_TRUE(track_binds);
}

}  // namespace
}  // namespace tagline::dispatch
