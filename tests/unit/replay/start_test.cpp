// What a run begins from comes back whole, or is refused with a clear word.
#include <gmock/gmock.h>

#include "server/replay/event_bytes.hpp"
#include "server/replay/seal.hpp"
#include "server/replay/start_bytes.hpp"
#include "tests/support/small_floors.hpp"
#include "tests/unit/replay/random_values.hpp"

namespace tagline::replay::test {
namespace {

using testing::HasSubstr;

class StartBytes : public testing::Test {
 protected:
  Start sample(std::uint64_t seed) {
    RandomValues random(seed, limits_of(ways, 3));
    Start start = random.make<Start>();
    start.cart_names = {"cart-1", "cart-2", "cart-3"};
    for (control::Job& job : start.restored.jobs)
      job.stops_done = random.below(job.stop_count() + 1);
    return start;
  }
  std::string refusal(std::string_view bytes) {
    try {
      (void)start_from(bytes, ways);
    } catch (const BadBytes& error) {
      return error.what();
    }
    return "";
  }
  static floor::Floor with_zone() {
    floor::Floor floor = tagline::test::loop_with_bay();
    floor.zones.push_back({"DRYING", "Drying room", {SegmentIx{0}}});
    return floor;
  }
  floor::Floor floor{with_zone()};
  floor::Ways ways{floor};
};

TEST_F(StartBytes, ComeBackWhole) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const Start start = sample(seed);
    const StartRead read = start_from(start_bytes(start), ways);
    EXPECT_EQ(read.layout, event_layout());
    EXPECT_EQ(read.start.cart_names, start.cart_names);
    EXPECT_EQ(read.start.now, start.now);
    EXPECT_EQ(read.start.policy.battery_idle, start.policy.battery_idle);
    EXPECT_EQ(read.start.policy.link_latency, start.policy.link_latency);
    EXPECT_EQ(read.start.restored.carts, start.restored.carts);
    EXPECT_EQ(read.start.restored.downtimes, start.restored.downtimes);
    EXPECT_EQ(read.start.restored.stopped_zones, start.restored.stopped_zones);
    EXPECT_EQ(read.start.restored.last_job, start.restored.last_job);
    ASSERT_EQ(read.start.restored.jobs.size(), start.restored.jobs.size());
    for (std::size_t k = 0; k < start.restored.jobs.size(); ++k) {
      const control::Job& one = read.start.restored.jobs[k];
      const control::Job& other = start.restored.jobs[k];
      EXPECT_EQ(one.via, other.via);
      EXPECT_EQ(one.due, other.due);
      EXPECT_EQ(one.state, other.state);
      EXPECT_EQ(one.note, other.note);
    }
    EXPECT_EQ(start_bytes(read.start), start_bytes(start));
  }
}

TEST_F(StartBytes, AnyByteThatIsWrongIsNoticed) {
  const std::string bytes = start_bytes(sample(1));
  for (std::size_t at = 0; at < bytes.size(); ++at) {
    std::string damaged = bytes;
    damaged[at] = static_cast<char>(damaged[at] + 1);
    ASSERT_THAT(refusal(damaged), HasSubstr("damaged")) << at;
  }
  for (std::size_t length = 0; length < bytes.size(); ++length)
    ASSERT_NE(refusal(bytes.substr(0, length)), "") << length;
}

TEST_F(StartBytes, WrongBytesUnderARightSealNeverDoHarm) {
  RandomValues random(9, limits_of(ways, 3));
  std::size_t refused = 0;
  for (int round = 0; round < 5'000; ++round) {
    std::string inner(unsealed(start_bytes(sample(random.below(20)))));
    for (std::uint64_t k = random.below(4) + 1; k-- > 0;)
      inner[random.below(inner.size())] = static_cast<char>(random.below(256));
    refused += refusal(sealed(std::move(inner))).empty() ? 0 : 1;
  }
  EXPECT_GT(refused, 500U);
}

TEST_F(StartBytes, WhatDoesNotFitTheFloorIsRefused) {
  Start start;
  start.cart_names = {"cart-1"};
  start.restored.paths.push_back(
      {CartIx{0}, 1, {}, {{1, PoseIx{static_cast<std::uint32_t>(ways.pose_count())}}}});
  EXPECT_THAT(refusal(start_bytes(start)), HasSubstr("there is not"));
  start.restored.paths = {{CartIx{1}, 1, {}, {}}};
  EXPECT_THAT(refusal(start_bytes(start)), HasSubstr("there is not"));
  start.restored.paths.clear();
  start.restored.jobs.emplace_back().stops_done = 3;
  EXPECT_THAT(refusal(start_bytes(start)), HasSubstr("more stops done"));
}

TEST_F(StartBytes, AnotherVersionsShapesAreRefused) {
  Bytes bytes;
  put(bytes, event_layout());
  put(bytes, std::string("(*s(tii))"));
  EXPECT_THAT(refusal(sealed(std::move(bytes.all))), HasSubstr("another version"));
}

}  // namespace
}  // namespace tagline::replay::test
