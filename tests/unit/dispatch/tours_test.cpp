// Tours against every way to deal jobs out, tried one by one.
#include "server/dispatch/tours.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <functional>
#include <limits>
#include <random>

namespace tagline::dispatch {
namespace {

using std::chrono::seconds;
using Tours = std::vector<std::vector<std::size_t>>;

/// The formula of the header, said once more; negative if a cart has no way.
std::int64_t cost(const TourProblem& p, const Tours& tours) {
  std::int64_t sum = 0;
  for (std::size_t k = 0; k < tours.size(); ++k) {
    std::int64_t time = p.ready[k].count();
    for (std::size_t i = 0; i < tours[k].size(); ++i) {
      const std::size_t job = tours[k][i];
      const Duration drive = i == 0 ? p.start[k][job] : p.empty[tours[k][i - 1]][job];
      if (drive == Duration::max()) return -1;
      time += drive.count() + p.work[job].count();
      sum += p.weight[job] * time;
    }
  }
  return sum;
}

std::int64_t least_of_all(const TourProblem& p) {
  std::int64_t best = std::numeric_limits<std::int64_t>::max();
  Tours tours(p.ready.size());
  const std::function<void(std::size_t)> deal = [&](std::size_t job) {
    if (job == p.work.size()) {
      const std::int64_t found = cost(p, tours);
      if (found >= 0) best = std::min(best, found);
      return;
    }
    for (std::size_t k = 0; k < tours.size(); ++k) {
      for (std::size_t at = 0; at <= tours[k].size(); ++at) {
        const auto place = static_cast<std::ptrdiff_t>(at);
        tours[k].insert(tours[k].begin() + place, job);
        deal(job + 1);
        tours[k].erase(tours[k].begin() + place);
      }
    }
  };
  deal(0);
  return best;
}

TourProblem random_problem(std::uint32_t seed, std::size_t carts, std::size_t jobs) {
  std::mt19937 random(seed);
  const auto upto = [&](std::uint32_t most) { return seconds{random() % most}; };
  TourProblem p;
  for (std::size_t k = 0; k < carts; ++k) {
    p.ready.emplace_back(upto(60));
    p.start.emplace_back();
    for (std::size_t j = 0; j < jobs; ++j) p.start.back().emplace_back(upto(120));
  }
  for (std::size_t j = 0; j < jobs; ++j) {
    p.work.emplace_back(seconds{20} + upto(60));
    p.weight.push_back(10 + static_cast<std::int64_t>(random() % 20));
    p.empty.emplace_back();
    for (std::size_t next = 0; next < jobs; ++next) p.empty.back().emplace_back(upto(120));
  }
  return p;
}

TEST(Tours, OneCartByHand) {
  // Ready at 10 s. Job 0 first: 10 + 5 + 30 = 45, then 40 there and 30: 115; sum 160.
  // Job 1 first: 10 + 8 + 30 = 48, then 2 there and 30: 80; sum 128, which is less.
  TourProblem p;
  p.ready = {seconds{10}};
  p.start = {{seconds{5}, seconds{8}}};
  p.empty = {{seconds{0}, seconds{40}}, {seconds{2}, seconds{0}}};
  p.work = {seconds{30}, seconds{30}};
  p.weight = {1, 1};
  EXPECT_EQ(plan_tours(p), (Tours{{1, 0}}));
  EXPECT_EQ(cost(p, {{1, 0}}), 128'000);
  // Job 0 counting three times as much: 3 x 45 + 115 = 250 against 48 + 3 x 80 = 288.
  p.weight = {3, 1};
  EXPECT_EQ(plan_tours(p), (Tours{{0, 1}}));
}

TEST(Tours, OfJobsThatAreAlikeTheFirstOnesGoFirst) {
  TourProblem p;
  p.ready = {seconds{0}};
  p.start = {{seconds{30}, seconds{30}, seconds{30}}};
  p.empty.assign(3, {seconds{50}, seconds{50}, seconds{50}});
  p.work.assign(3, seconds{20});
  p.weight.assign(3, 20);
  EXPECT_EQ(plan_tours(p), (Tours{{0, 1, 2}}));
}

TEST(Tours, WhatNoCartHasAWayToIsLeftOut) {
  TourProblem p = random_problem(1, 2, 3);
  for (auto& row : p.start) row[2] = Duration::max();
  for (auto& row : p.empty) row[2] = Duration::max();
  std::vector<std::size_t> dealt;
  for (const auto& tour : plan_tours(p)) dealt.insert(dealt.end(), tour.begin(), tour.end());
  std::ranges::sort(dealt);
  EXPECT_EQ(dealt, (std::vector<std::size_t>{0, 1}));
}

TEST(Tours, NearTheBestOfAllWays) {
  constexpr int problems = 150;
  double ratios = 0;
  double worst = 0;
  for (std::uint32_t seed = 1; seed <= problems; ++seed) {
    const std::size_t carts = 1 + seed % 3;
    const TourProblem p = random_problem(seed, carts, 5);
    const Tours tours = plan_tours(p);
    std::vector<std::size_t> dealt;
    for (const auto& tour : tours) dealt.insert(dealt.end(), tour.begin(), tour.end());
    std::ranges::sort(dealt);
    ASSERT_EQ(dealt, (std::vector<std::size_t>{0, 1, 2, 3, 4}));
    const std::int64_t best = least_of_all(p);
    const std::int64_t found = cost(p, tours);
    ASSERT_GE(found, best);
    const double ratio = static_cast<double>(found) / static_cast<double>(best);
    ratios += ratio;
    worst = std::max(worst, ratio);
  }
  std::printf("  cost of tours against the least: mean x %.4f, worst x %.3f\n", ratios / problems,
              worst);
  EXPECT_LT(ratios / problems, 1.02);
  EXPECT_LT(worst, 1.25);
}

}  // namespace
}  // namespace tagline::dispatch
