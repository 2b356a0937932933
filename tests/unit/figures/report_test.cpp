// Figures of a range, by hand and against another way of working them out.
#include "server/figures/report.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <random>

namespace tagline::figures::test {
namespace {

using control::JobState;
using testing::ElementsAre;

Instant minute(std::int64_t m) { return Instant{std::chrono::minutes{m}}; }
constexpr Duration minutes(std::int64_t m) { return std::chrono::minutes{m}; }

JobRow job(std::uint64_t id, JobState state, std::int64_t created, std::int64_t ended,
           std::optional<std::int64_t> due = {}) {
  JobRow row{id, "CAST", "DRY", state, minute(created), std::nullopt, std::nullopt};
  if (control::is_final(state)) row.ended_at = minute(ended);
  if (due) row.due = minute(*due);
  return row;
}

const Range three_hours{minute(60), minute(240)};

TEST(Percentile, IsAValueThatOccurred) {
  const std::vector<Duration> ten{minutes(1), minutes(2), minutes(3), minutes(4), minutes(5),
                                  minutes(6), minutes(7), minutes(8), minutes(9), minutes(10)};
  EXPECT_EQ(percentile(ten, 50), minutes(5));
  EXPECT_EQ(percentile(ten, 90), minutes(9));
  EXPECT_EQ(percentile(ten, 91), minutes(10));
  EXPECT_EQ(percentile(ten, 100), minutes(10));
  EXPECT_EQ(percentile({minutes(7)}, 50), minutes(7));
  EXPECT_EQ(percentile({minutes(7)}, 90), minutes(7));
}

TEST(Percentile, EqualsItsDefinition) {
  std::mt19937 chance(7);
  for (std::size_t n = 1; n < 40; ++n) {
    std::vector<Duration> values(n);
    for (Duration& value : values)
      value = Duration{std::uniform_int_distribution<int>(0, 30)(chance)};
    std::ranges::sort(values);
    for (const std::size_t percent : {1u, 50u, 90u, 100u}) {
      const Duration found = percentile(values, percent);
      const auto not_above = static_cast<std::size_t>(
          std::ranges::count_if(values, [&](Duration v) { return v <= found; }));
      const auto below = static_cast<std::size_t>(
          std::ranges::count_if(values, [&](Duration v) { return v < found; }));
      EXPECT_GE(not_above * 100, n * percent);
      EXPECT_LT(below * 100, n * percent) << "a smaller one would do";
    }
  }
}

TEST(Report, DeliveriesAreOfTheHourTheyEndedIn) {
  Rows rows;
  rows.delivered = {job(1, JobState::delivered, 55, 60), job(2, JobState::delivered, 10, 119),
                    job(3, JobState::delivered, 100, 120),
                    job(4, JobState::delivered, 100, 240)};  // the range is over
  const Report report = report_of(rows, three_hours, minute(300));
  EXPECT_EQ(report.delivered, 3u);
  ASSERT_EQ(report.hours.size(), 3u);
  EXPECT_EQ(report.hours[0].delivered, 2u);
  EXPECT_EQ(report.hours[1].delivered, 1u);
  EXPECT_EQ(report.hours[2].delivered, 0u);
  EXPECT_EQ(report.hours[1].from, minute(120));
  EXPECT_FALSE(report.hours[2].lead);
  EXPECT_EQ(report.hours[0].lead->median, minutes(5));
  EXPECT_EQ(report.hours[0].lead->ninth_decile, minutes(109));
  EXPECT_EQ(report.lead->median, minutes(20));
}

TEST(Report, ADayOfTwentyThreeHoursAndAQuarterHasAShortLastHour) {
  const Report report = report_of({}, {minute(0), minute(23 * 60 + 15)}, minute(0));
  EXPECT_EQ(report.hours.size(), 24u);
  EXPECT_FALSE(report.lead);
}

TEST(Report, EachJobThatWasDueIsCountedOnce) {
  Rows rows;
  rows.due = {job(1, JobState::delivered, 0, 100, 100),  // to the minute
              job(2, JobState::delivered, 0, 101, 100), job(3, JobState::loaded, 0, 0, 150),
              job(4, JobState::queued, 0, 0, 210),      job(5, JobState::cancelled, 0, 90, 100),
              job(6, JobState::stranded, 0, 220, 100)};
  const Report report = report_of(rows, three_hours, minute(200));
  EXPECT_EQ(report.due.jobs, 6u);
  EXPECT_EQ(report.due.on_time, 1u);
  EXPECT_EQ(report.due.late, 1u);
  EXPECT_EQ(report.due.overdue, 1u);
  EXPECT_EQ(report.due.to_come, 1u);
  EXPECT_EQ(report.due.ended_otherwise, 2u);
  ASSERT_EQ(report.late.size(), 2u);
  EXPECT_EQ(report.late[0].job.id, 3u) << "the latest due first";
  EXPECT_EQ(report.late[0].late, minutes(50)) << "so far";
  EXPECT_EQ(report.late[1].late, minutes(1));
}

TEST(Report, TheWorstComesFirst) {
  Rows rows;
  rows.merges = {{"P1", 2, minutes(3)}, {"P2", 1, minutes(9)}, {"P3", 0, minutes(3)}};
  rows.tags = {{"P1", 90, 10}, {"P2", 5, 0}, {"P3", 1, 1}, {"P4", 9, 1}, {"P5", 50, 0}};
  rows.carts = {{"cart-2", {}}, {"cart-1", {}}};
  const Report report = report_of(rows, three_hours, minute(0));
  const auto points = [](const auto& list) {
    std::vector<std::string> found;
    for (const auto& one : list) found.push_back(one.point);
    return found;
  };
  EXPECT_THAT(points(report.merges), ElementsAre("P2", "P1", "P3"));
  EXPECT_THAT(points(report.tags), ElementsAre("P3", "P4", "P1", "P2", "P5"));
  EXPECT_EQ(report.carts[0].cart, "cart-1");
}

}  // namespace
}  // namespace tagline::figures::test
