// How near the whole system comes to the best that any control could do: six jobs, three carts, all
// asked for at once, on the small floors and on the demo floor.
//
// The optimum is that of schedule_model.hpp by GLPK 5.0 (GNU Linear Programming Kit, branch and
// cut), driving times by Boost.Graph (E. W. Dijkstra 1959). It is a lower bound: it leaves out all
// shared track but the stations, and on the small floors, whose stations lie in the only lane, that
// is most of what carts wait for.
//
// The first bound, by which the figures are judged here, lets any number of carts into a station;
// it is solved to the optimum in an instant. The second lets one in at a time; GLPK takes from some
// tenths of a second to minutes a case for it. So here it is asked only for some cases that are
// known to be quick; TAGLINE_OPTIMUM_CASES=5 (cases per floor) TAGLINE_OPTIMUM_SECONDS=60 (per
// program) runs more, shows the schedules side by side, and prints both. A program that is not
// solved in time still gives a lower bound, marked with *.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <stdexcept>
#include <string>

#include "server/floor/file.hpp"
#include "tests/optimum/schedule_model.hpp"
#include "tests/support/small_floors.hpp"

namespace tagline::test {
namespace {

constexpr std::size_t carts = 3;
constexpr std::size_t jobs = 6;

std::vector<floor::Floor> floors() {
  auto all = small_floors();
  auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  auto* demo = std::get_if<floor::Floor>(&loaded);
  if (demo == nullptr) throw std::runtime_error("the demo floor doesn't load");
  all.push_back(std::move(*demo));
  return all;
}

int from_environment(const char* name, int otherwise) {
  const char* text = std::getenv(name);
  return text == nullptr ? otherwise : std::atoi(text);
}

/// Ratios to an optimum: their mean and the worst.
struct Ratios {
  double sum{}, worst{};
  int count{};
  void add(double ratio) {
    sum += ratio;
    worst = std::max(worst, ratio);
    ++count;
  }
  [[nodiscard]] double mean() const { return count == 0 ? 0 : sum / count; }
};

/// The jobs that each cart did, in turn.
std::vector<Tour> tours_of(const Done& done) {
  std::vector<Tour> tours;
  for (std::size_t k = 0; k < carts; ++k) {
    Tour tour{k, {}};
    for (std::size_t j = 0; j < done.jobs.size(); ++j) {
      if (done.jobs[j].cart == k) tour.jobs.push_back(j);
    }
    std::ranges::sort(tour.jobs, {}, [&](std::size_t j) { return done.jobs[j].loaded; });
    tours.push_back(tour);
  }
  return tours;
}

void show(const char* who, const Tour& tour, const ScheduleModel& model, const Done* done) {
  std::printf("    %s cart %zu:", who, tour.cart + 1);
  double time = 0;
  for (std::size_t i = 0; i < tour.jobs.size(); ++i) {
    const std::size_t job = tour.jobs[i];
    time += i == 0 ? model.start[tour.cart][job] : model.empty[tour.jobs[i - 1]][job];
    time += model.jobs[job].all();
    std::printf("  job %zu at %.0f s", job + 1, done == nullptr ? time : done->jobs[job].delivered);
    if (done != nullptr) std::printf(" (alone on the floor %.0f)", time);
  }
  std::printf("\n");
}

TEST(Finish, AgainstTheOptimum) {
  const int cases = from_environment("TAGLINE_OPTIMUM_CASES", 4);
  const int seconds = from_environment("TAGLINE_OPTIMUM_SECONDS", 0);
  Ratios finish, sum, finish_demo, sum_demo, dispatch, traffic, finish_stations, sum_stations;
  const auto all = floors();
  for (std::size_t f = 0; f < all.size(); ++f) {
    const bool demo = f + 1 == all.size();
    const floor::Ways ways(all[f]);
    const floor::Track track(ways);
    for (int seed = 1; seed <= cases; ++seed) {
      SCOPED_TRACE(all[f].name + ", case " + std::to_string(seed));
      const SmallCase small = random_case(track, carts, jobs, static_cast<std::uint64_t>(seed));
      const ScheduleModel model = schedule_model(track, small);
      const Done done = run_case(track, small);
      const Optimum best = optimum_without_stations(model, Measure::finish);
      const Optimum best_sum = optimum_without_stations(model, Measure::sum);
      // The program says what it should.
      ASSERT_NEAR(best.value, optimum_by_sets(model, Measure::finish), 1e-6);
      ASSERT_NEAR(best_sum.value, optimum_by_sets(model, Measure::sum), 1e-6);
      // No run may beat it.
      ASSERT_GE(done.finish(), best.value);
      ASSERT_GE(done.sum(), best_sum.value);
      finish.add(done.finish() / best.value);
      sum.add(done.sum() / best_sum.value);
      // What is lost by who does what, and what by getting into each other's way.
      double alone = 0;
      for (const Tour& tour : tours_of(done)) alone = std::max(alone, length(model, tour));
      dispatch.add(alone / best.value);
      traffic.add(done.finish() / alone);
      if (demo) {
        finish_demo.add(done.finish() / best.value);
        sum_demo.add(done.sum() / best_sum.value);
      }
      std::printf(
          "  %-31s %d: finish %5.0f s, optimum %5.0f (x %.2f); sum %5.0f, optimum %5.0f (x %.2f)",
          all[f].name.c_str(), seed, done.finish(), best.value, done.finish() / best.value,
          done.sum(), best_sum.value, done.sum() / best_sum.value);
      if (seconds > 0) {
        const auto tight = optimum_with_stations(model, Measure::finish, done.finish(), seconds);
        const auto tight_sum = optimum_with_stations(model, Measure::sum, done.sum(), seconds);
        ASSERT_TRUE(tight && tight_sum) << "the run beats the bound";
        ASSERT_LE(tight->value, done.finish() + 0.1);
        finish_stations.add(done.finish() / tight->value);
        sum_stations.add(done.sum() / tight_sum->value);
        std::printf("; one at a station: %5.0f%s (x %.2f), %5.0f%s (x %.2f)\n", tight->value,
                    tight->proven ? "" : "*", done.finish() / tight->value, tight_sum->value,
                    tight_sum->proven ? "" : "*", done.sum() / tight_sum->value);
        for (const Tour& tour : tours_of(done)) show("run ", tour, model, &done);
        for (const Tour& tour : best.tours) show("best", tour, model, nullptr);
      }
      std::printf("\n");
    }
  }
  const auto print = [](const char* what, const Ratios& ratios) {
    std::printf("  %-44s mean x %.3f, worst x %.3f (%d cases)\n", what, ratios.mean(), ratios.worst,
                ratios.count);
  };
  print("time of the last delivery", finish);
  print("  of which: who does what", dispatch);
  print("  of which: in each other's way", traffic);
  print("sum of the times of all deliveries", sum);
  print("demo floor: last delivery", finish_demo);
  print("demo floor: sum", sum_demo);
  if (seconds > 0) {
    print("last delivery, one cart at a station", finish_stations);
    print("sum, one cart at a station", sum_stations);
  }
  // Bounds a little above what was measured when this was written (1.33, 1.23, 1.18, 1.11), for the
  // usual number of cases. The aim, 1.05, is not reached against a bound that leaves out so much.
  if (cases < 4) return;
  EXPECT_LT(finish.mean(), 1.38);
  EXPECT_LT(sum.mean(), 1.27);
  EXPECT_LT(finish_demo.mean(), 1.24);
  EXPECT_LT(sum_demo.mean(), 1.16);
}

// ---- the model itself ---------------------------------------------------------------------------

/// Two carts, two jobs from one station to another, by hand.
ScheduleModel two_alike() {
  ScheduleModel model;
  model.start = {{10, 10}, {10, 10}};
  model.empty = {{25, 25}, {25, 25}};
  model.jobs = {{{0, 1}, {15, 5}, 30}, {{0, 1}, {15, 5}, 30}};
  model.gap = {8, 8};
  return model;
}

TEST(Model, TwoCartsByHand) {
  const ScheduleModel model = two_alike();
  // Both at once: 10 + 15 + 30 + 5 = 60.
  EXPECT_NEAR(optimum_without_stations(model, Measure::finish).value, 60, 1e-6);
  EXPECT_NEAR(optimum_without_stations(model, Measure::sum).value, 120, 1e-6);
  // One at a time: the second is loaded from 10 + 15 + 8 = 33 on, and done 33 + 50 = 83. (One cart
  // for both: 60 + 25 + 50 = 135.)
  const auto finish = optimum_with_stations(model, Measure::finish, 200, 10);
  const auto sum = optimum_with_stations(model, Measure::sum, 300, 10);
  ASSERT_TRUE(finish && sum && finish->proven && sum->proven);
  EXPECT_NEAR(finish->value, 83, 1e-5);
  EXPECT_NEAR(sum->value, 143, 1e-5);
  EXPECT_FALSE(optimum_with_stations(model, Measure::finish, 82.9, 10));
  EXPECT_FALSE(optimum_with_stations(model, Measure::sum, 142.9, 10));
}

TEST(Model, OneCartNeedsNoGapAfterItself) {
  // The second job starts where the first ends: 10 + 50 + 0 + 15 + 30 + 5 = 110.
  ScheduleModel model = two_alike();
  model.start = {{10, 99}};
  model.empty = {{99, 0}, {99, 99}};
  model.jobs[1].station = {1, 2};
  model.gap = {8, 8, 8};
  const auto finish = optimum_with_stations(model, Measure::finish, 500, 10);
  ASSERT_TRUE(finish && finish->proven);
  EXPECT_NEAR(finish->value, 110, 1e-5);
}

TEST(Model, TimesByHand) {
  // Loop with a siding bay: CAST at B, DRY at F; from B over C, D, E to F: 2000 + 2000 + 6000 +
  // 2000 mm at 400 mm/s, and 400/600 + 400/1200 = 1 s to set off and to stop.
  const floor::Floor floor = loop_with_bay();
  const floor::Ways ways(floor);
  const floor::Track track(ways);
  const StationIx cast = *floor.find_station("CAST");
  const StationIx dry = *floor.find_station("DRY");
  const ScheduleModel model = schedule_model(
      track, {{ways.poses_at(*floor.find_point("H1"))[0]}, {{cast, dry}, {dry, cast}}});
  EXPECT_NEAR(model.jobs[0].drive, 12'000 / 400.0 + 1, 1e-9);
  EXPECT_EQ(model.empty[0][1], 0) << "the next load is where the first one ends";
  EXPECT_NEAR(model.jobs[0].all(), 31 + 15 + 15, 1e-9);
  // From H1 back to B: out of the bay to E, then F, G, H, A, B.
  const double out = static_cast<double>(floor[*floor.find_segment("OUTH1")].length.value);
  EXPECT_NEAR(model.start[0][0], (out + 2000 + 2000 + 2000 + 6000 + 2000) / 400 + 1, 1e-9);
  // A cart at F can be followed into F once it has read the tag of G (2000 mm, setting off), by one
  // that was still rolling up to E (2000 mm, stopping twice).
  EXPECT_NEAR(model.gap[dry.value], 2000 / 400.0 + 2.0 / 3 + 2000 / 400.0 + 2.0 / 3, 1e-9);
}

TEST(Model, StationsMakeTheOptimumNoBetter) {
  const auto all = small_floors();
  int proven = 0;
  for (const std::size_t f : {1U, 2U, 5U}) {  // quick ones
    const floor::Ways ways(all[f]);
    const floor::Track track(ways);
    const SmallCase small = random_case(track, carts, 4, 1);
    const ScheduleModel model = schedule_model(track, small);
    const Done done = run_case(track, small);
    for (const Measure measure : {Measure::finish, Measure::sum}) {
      const double reached = measure == Measure::finish ? done.finish() : done.sum();
      const auto tight = optimum_with_stations(model, measure, reached, 20);
      ASSERT_TRUE(tight) << "the run beats the bound";
      EXPECT_GE(tight->value, optimum_by_sets(model, measure) - 1e-6);
      EXPECT_LE(tight->value, reached + 0.1);
      proven += tight->proven ? 1 : 0;
    }
  }
  EXPECT_EQ(proven, 6);
}

}  // namespace
}  // namespace tagline::test
