// How the works ran in a stretch of time: worked out from rows of the record.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "server/control/job.hpp"
#include "server/figures/sums.hpp"

namespace tagline::figures {

/// `to` is not in it.
struct Range {
  Instant from, to;
};
/// A longer one is refused: so much can be read in a moment.
inline constexpr Duration longest_range = std::chrono::days{31} + std::chrono::hours{1};

/// Stations, carts and points are textual ids, because the floor and the fleet may have changed
/// since.
struct JobRow {
  std::uint64_t id{};
  std::string from, to;
  control::JobState state{};
  Instant created;
  std::optional<Instant> due{};
  std::optional<Instant> ended_at{};
};
struct CartRow {
  std::string cart;
  std::array<Duration, all_uses.size()> time{};  // by Use
};
struct MergeRow {
  std::string point;
  std::int64_t waits{};
  Duration time{};
};
/// How often carts read the tag of a point, and how often they passed it without.
struct TagRow {
  std::string point;
  std::int64_t read{}, missed{};
};

/// What the record has of a range.
struct Rows {
  std::vector<JobRow> delivered;  // in it
  std::vector<JobRow> due;        // whose due time is in it, whatever became of them
  std::vector<CartRow> carts;
  std::vector<MergeRow> merges;
  std::vector<TagRow> tags;
  /// The earliest quarter of which sums are kept at all.
  std::optional<Instant> kept_since{};
};

/// From asked to delivered.
struct Lead {
  Duration median{}, ninth_decile{};
};
struct Hour {
  Instant from;
  std::size_t delivered{};
  std::optional<Lead> lead{};  // of those delivered
};
struct LateJob {
  JobRow job;
  Duration late{};  // so far, if it is still open
};
/// What became of the jobs that were due in the range.
struct DueJobs {
  std::size_t jobs{}, on_time{}, late{};
  std::size_t overdue{};  // late, and still open
  std::size_t to_come{};  // open, and their time has not come
  std::size_t ended_otherwise{};
};
struct Report {
  Range range;
  Instant now;
  std::size_t delivered{};
  std::optional<Lead> lead{};
  /// Each is an hour from the range's beginning on; the last one may be shorter.
  std::vector<Hour> hours;
  DueJobs due;
  std::vector<LateJob> late;  // the latest due first
  std::vector<CartRow> carts;
  std::vector<MergeRow> merges;  // the longest waited for first
  std::vector<TagRow> tags;      // the least read first
  std::optional<Instant> kept_since{};
};

Report report_of(const Rows& rows, const Range& range, Instant now);

/// The least value that at least this share of all are not above: one that really occurred
/// (definition 1 of Hyndman and Fan 1996, "Sample Quantiles in Statistical Packages"). `values` are
/// sorted and not empty; `percent` is 1 to 100.
Duration percentile(const std::vector<Duration>& values, std::size_t percent);

}  // namespace tagline::figures
