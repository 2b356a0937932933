// See report.hpp.
#include "server/figures/report.hpp"

#include <algorithm>

namespace tagline::figures {
namespace {

constexpr Duration one_hour = std::chrono::hours{1};

std::optional<Lead> lead_of(std::vector<Duration>& times) {
  if (times.empty()) return std::nullopt;
  std::ranges::sort(times);
  return Lead{percentile(times, 50), percentile(times, 90)};
}

void count_deliveries(const std::vector<JobRow>& delivered, Report& report) {
  std::vector<std::vector<Duration>> by_hour;
  for (Instant from = report.range.from; from < report.range.to; from += one_hour) {
    report.hours.push_back({from, 0, std::nullopt});
    by_hour.emplace_back();
  }
  std::vector<Duration> all;
  for (const JobRow& job : delivered) {
    if (!job.ended_at || *job.ended_at < report.range.from || *job.ended_at >= report.range.to)
      continue;
    const Duration lead = *job.ended_at - job.created;
    all.push_back(lead);
    by_hour[static_cast<std::size_t>((*job.ended_at - report.range.from) / one_hour)].push_back(
        lead);
  }
  report.delivered = all.size();
  report.lead = lead_of(all);
  for (std::size_t k = 0; k < by_hour.size(); ++k) {
    report.hours[k].delivered = by_hour[k].size();
    report.hours[k].lead = lead_of(by_hour[k]);
  }
}

void count_due(const std::vector<JobRow>& due, Report& report) {
  for (const JobRow& job : due) {
    if (!job.due) continue;
    ++report.due.jobs;
    if (control::is_final(job.state) && job.state != control::JobState::delivered) {
      ++report.due.ended_otherwise;
      continue;
    }
    const bool open = !control::is_final(job.state);
    const Instant until = open ? report.now : job.ended_at.value_or(report.now);
    if (until <= *job.due) {
      ++(open ? report.due.to_come : report.due.on_time);
      continue;
    }
    ++(open ? report.due.overdue : report.due.late);
    report.late.push_back({job, until - *job.due});
  }
  std::ranges::sort(report.late, [](const LateJob& a, const LateJob& b) {
    return *a.job.due != *b.job.due ? *a.job.due > *b.job.due : a.job.id > b.job.id;
  });
}

/// Of tags without a miss the one that was read oftener is the better.
bool less_read(const TagRow& a, const TagRow& b) {
  const std::int64_t missed_a = a.missed * (b.read + b.missed);
  const std::int64_t missed_b = b.missed * (a.read + a.missed);
  if (missed_a != missed_b) return missed_a > missed_b;
  return a.read != b.read ? a.read < b.read : a.point < b.point;
}

}  // namespace

Duration percentile(const std::vector<Duration>& values, std::size_t percent) {
  return values[(values.size() * percent + 99) / 100 - 1];
}

Report report_of(const Rows& rows, const Range& range, Instant now) {
  Report report;
  report.range = range;
  report.now = now;
  report.kept_since = rows.kept_since;
  count_deliveries(rows.delivered, report);
  count_due(rows.due, report);
  report.carts = rows.carts;
  std::ranges::sort(report.carts, {}, &CartRow::cart);
  report.merges = rows.merges;
  std::ranges::sort(report.merges, [](const MergeRow& a, const MergeRow& b) {
    return a.time != b.time ? a.time > b.time : a.point < b.point;
  });
  report.tags = rows.tags;
  std::ranges::sort(report.tags, less_read);
  return report;
}

}  // namespace tagline::figures
