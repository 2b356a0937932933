// The core against physical truth: bodies never touch, every job is delivered, and nobody stands
// still for ever, with unread tags, things in the way and a link that drops.
#include "tests/scenario/closed_loop/closed_loop.hpp"

#include <gtest/gtest.h>

#include "server/floor/file.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

void run(const floor::Floor& floor, std::size_t carts, std::size_t jobs, std::uint64_t seed,
         ClosedLoop::Faults faults) {
  SCOPED_TRACE(floor.name + ", " + std::to_string(carts) + " carts, seed " + std::to_string(seed));
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  ClosedLoop loop(track, carts, seed, faults);
  std::size_t asked = 0;
  const Duration limit = std::chrono::minutes{10} * static_cast<std::int64_t>(jobs);
  while ((asked < jobs || loop.open_jobs() > 0) && loop.elapsed() < limit) {
    while (asked < jobs && loop.open_jobs() < carts + 2) {
      const auto from = loop.pick(floor.stations.size());
      const auto to = (from + 1 + loop.pick(floor.stations.size() - 1)) % floor.stations.size();
      loop.ask_job(from, to);
      ++asked;
    }
    loop.run(std::chrono::seconds{1});
    ASSERT_EQ(loop.world().referee().contacts(), 0u) << loop.world().referee().first_contact();
    for (std::uint32_t i = 0; i < carts; ++i) {
      ASSERT_NE(loop.core().cart({i}).mode, control::CartMode::in_doubt) << loop.describe();
    }
  }
  ASSERT_EQ(loop.open_jobs(), 0u) << "after " << loop.elapsed().count() / 1000 << " s"
                                  << loop.describe();
  if (carts > 1) {
    EXPECT_GT(loop.world().referee().least_gap(), 0.0);
  }
  std::printf("  %-28s %zu carts: %zu jobs in %lld s, least gap %.0f mm at %s\n",
              floor.name.c_str(), carts, jobs,
              static_cast<long long>(loop.elapsed().count() / 1000),
              loop.world().referee().least_gap(), loop.world().referee().least_gap_at().c_str());
}

floor::Floor demo_floor() {
  auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  if (auto* floor = std::get_if<floor::Floor>(&loaded)) return std::move(*floor);
  throw std::runtime_error("the demo floor doesn't load");
}

TEST(ClosedLoop, SmallFloorsWithoutFaults) {
  for (const floor::Floor& floor : small_floors()) {
    std::size_t sidings = 0;
    for (const auto& point : floor.points) sidings += point.siding ? 1 : 0;
    ASSERT_NO_FATAL_FAILURE(run(floor, sidings, 15, 1, {}));
  }
}

TEST(ClosedLoop, SmallFloorsWithFaults) {
  for (const floor::Floor& floor : small_floors()) {
    ASSERT_NO_FATAL_FAILURE(run(floor, 3, 15, 2,
                                {.miss_rate = 0.02,
                                 .stalls_per_hour = 10,
                                 .drops_per_hour = 20,
                                 .latency = Duration{400}}));
  }
}

TEST(ClosedLoop, TheDemoWorksWithFiveCarts) {
  ASSERT_NO_FATAL_FAILURE(run(demo_floor(), 5, 100, 3, {}));
}

TEST(ClosedLoop, TheDemoWorksWithFaults) {
  ASSERT_NO_FATAL_FAILURE(run(
      demo_floor(), 5, 60, 4,
      {.miss_rate = 0.01, .stalls_per_hour = 6, .drops_per_hour = 12, .latency = Duration{300}}));
}

TEST(ClosedLoop, ADeadTagWhereTheTapeDoesNotPartStopsNobody) {
  // Carts come to wait at G, because H, a fork behind a merge, is often taken. G's tag is dead.
  const floor::Floor floor = loop_with_bay();
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  ClosedLoop loop(track, 4, 5, {});
  const PointIx dead = *floor.find_point("G");
  loop.world().spoil_tags(dead);
  for (std::size_t i = 0; i < 12; ++i) loop.ask_job(i % 3, (i + 1) % 3);
  bool waited_there = false;
  for (int second = 0; second < 3600 && loop.open_jobs() > 0; ++second) {
    loop.run(std::chrono::seconds{1});
    ASSERT_EQ(loop.world().referee().contacts(), 0u);
    for (std::uint32_t i = 0; i < 4; ++i) {
      const auto view = loop.core().cart({i});
      ASSERT_NE(view.mode, control::CartMode::in_doubt) << loop.describe();
      waited_there = waited_there || view.fault == control::Fault::overrun;
    }
  }
  EXPECT_EQ(loop.open_jobs(), 0u) << loop.describe();
  EXPECT_TRUE(waited_there) << "the test must have seen what it is about";
}

}  // namespace
}  // namespace tagline::test
