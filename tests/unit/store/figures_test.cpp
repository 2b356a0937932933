// Rows for the figures: written with the rest, read beside the writer, and the same as what plain
// SQL and plain counting find in the raw rows.
#include <gmock/gmock.h>

#include <random>

#include "server/store/figure_reader.hpp"
#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

/// at(0) is the beginning of an hour.
constexpr std::int64_t one_minute = 60'000, one_hour = 60 * one_minute;

class FigureRowsTest : public testing::Test {
 protected:
  FigureRowsTest() {
    store.emplace(folder.data(), works.ways, three_carts);
    (void)store->load(at(0));
  }
  void write(Batch batch) { store->write(at(0), std::span(&batch, 1)); }
  void read_tag(std::int64_t ms, std::uint32_t point, std::vector<PointIx> missed = {}) {
    Batch batch;
    batch.trace.push_back(
        {at(ms), control::ReadTrace{CartIx{0}, PointIx{point}, 1, std::move(missed)}});
    write(std::move(batch));
  }
  void put(control::Job job) {
    Batch batch;
    batch.records.emplace_back(control::JobRecord{std::move(job)});
    write(std::move(batch));
  }
  [[nodiscard]] figures::Rows rows(std::int64_t from, std::int64_t to,
                                   FigureLimits limits = {}) const {
    return FigureReader(folder.data(), limits).read({at(from), at(to)});
  }
  static control::Job ended(std::uint64_t id, control::JobState state, std::int64_t created,
                            std::int64_t ended_at, std::optional<std::int64_t> due = {}) {
    control::Job job = queued_job(id, created);
    job.state = state;
    job.changed = at(ended_at);
    if (control::is_final(state)) job.ended_at = at(ended_at);
    if (due) job.due = at(*due);
    return job;
  }

  Works works;
  TempFolder folder;
  std::optional<Store> store;
};

TEST_F(FigureRowsTest, SumsAreAddedUp) {
  Batch batch;
  batch.sums.carts = {{at(0), CartIx{1}, figures::Use::waiting, Duration{4'000}},
                      {at(0), CartIx{1}, figures::Use::moving, Duration{6'000}},
                      {at(one_hour), CartIx{1}, figures::Use::moving, Duration{9'000}}};
  batch.sums.merges = {{at(0), PointIx{1}, 1, Duration{4'000}}};
  write(batch);
  write(batch);
  const figures::Rows found = rows(0, one_hour);
  ASSERT_EQ(found.carts.size(), 1u);
  EXPECT_EQ(found.carts[0].cart, "cart-2");
  EXPECT_EQ(found.carts[0].time[static_cast<std::size_t>(figures::Use::waiting)], Duration{8'000});
  EXPECT_EQ(found.carts[0].time[static_cast<std::size_t>(figures::Use::moving)], Duration{12'000});
  ASSERT_EQ(found.merges.size(), 1u);
  EXPECT_EQ(found.merges[0].point, "B");
  EXPECT_EQ(found.merges[0].waits, 2);
  EXPECT_EQ(found.merges[0].time, Duration{8'000});
  EXPECT_EQ(found.kept_since, at(0));
  EXPECT_THAT(rows(2 * one_hour, 3 * one_hour).carts, IsEmpty());
}

TEST_F(FigureRowsTest, TagsAreCountedByTheQuarter) {
  read_tag(0, 0);
  read_tag(1, 2, {PointIx{1}});
  read_tag(16 * one_minute, 1, {PointIx{0}, PointIx{2}});
  const auto tags = [this](std::int64_t from, std::int64_t to) {
    std::vector<std::string> found;
    for (const figures::TagRow& tag : rows(from, to).tags)
      found.push_back(tag.point + " " + std::to_string(tag.read) + " " +
                      std::to_string(tag.missed));
    return found;
  };
  EXPECT_THAT(tags(0, 15 * one_minute), ElementsAre("A 1 0", "B 0 1", "C 1 0"));
  EXPECT_THAT(tags(0, one_hour), ElementsAre("A 1 1", "B 1 1", "C 1 1"));
}

TEST_F(FigureRowsTest, JobsAreThoseDeliveredAndThoseDue) {
  using control::JobState;
  put(ended(1, JobState::delivered, 0, 5, 10));
  put(ended(2, JobState::cancelled, 0, 6, 3 * one_hour));
  put(ended(3, JobState::queued, 0, 0, 7));
  put(ended(4, JobState::delivered, 0, 2 * one_hour));
  const auto ids = [](const std::vector<figures::JobRow>& jobs) {
    std::vector<std::uint64_t> found;
    for (const figures::JobRow& job : jobs) found.push_back(job.id);
    return found;
  };
  EXPECT_THAT(ids(rows(0, one_hour).delivered), ElementsAre(1));
  EXPECT_THAT(ids(rows(0, one_hour).due), testing::UnorderedElementsAre(1, 3));
  EXPECT_THAT(ids(rows(one_hour, 4 * one_hour).delivered), ElementsAre(4));
  EXPECT_THAT(ids(rows(one_hour, 4 * one_hour).due), ElementsAre(2));
  EXPECT_EQ(rows(0, one_hour).delivered[0].from, "CAST");
}

TEST_F(FigureRowsTest, AReportEqualsPlainSqlOverTheRawRows) {
  std::mt19937 chance(11);
  const auto pick = [&](int below) {
    return std::uniform_int_distribution<int>(0, below - 1)(chance);
  };
  for (std::uint64_t id = 1; id <= 150; ++id) {
    const std::int64_t created = pick(3 * one_hour);
    const std::int64_t due = created + pick(one_hour);
    put(ended(id, pick(6) == 0 ? control::JobState::cancelled : control::JobState::delivered,
              created, created + 1 + pick(one_hour),
              pick(2) == 0 ? std::optional(due) : std::nullopt));
  }
  for (int k = 0; k < 200; ++k) {
    std::vector<PointIx> missed;
    if (pick(4) == 0) missed.push_back(PointIx{static_cast<std::uint32_t>(pick(5))});
    read_tag(pick(3 * one_hour), static_cast<std::uint32_t>(pick(5)), missed);
  }
  const figures::Range range{at(0), at(3 * one_hour)};
  const figures::Report report = figures::report_of(rows(0, 3 * one_hour), range, at(9 * one_hour));

  SQLite::Database raw(folder.database().string());
  const auto number = [&raw](const std::string& sql) { return raw.execAndGet(sql).getInt64(); };
  const auto count = [&](const std::string& where) {
    return static_cast<std::size_t>(number("SELECT count(*) " + where));
  };
  const auto ms = [](Instant moment) { return std::to_string(moment.time_since_epoch().count()); };
  const std::string delivered =
      "FROM jobs WHERE state = 'delivered' AND ended_at >= " + ms(range.from) + " AND ended_at < " +
      ms(range.to);
  EXPECT_EQ(report.delivered, count(delivered));
  ASSERT_GT(report.delivered, 60u);
  const auto rank = [&](int percent) {
    // The least lead time that so many per cent are not above.
    return number(
        "SELECT min(lead) FROM (SELECT a.ended_at - a.created AS lead FROM jobs AS a "
        "WHERE a.id IN (SELECT id " +
        delivered + ") AND 100 * (SELECT count(*) " + delivered +
        " AND ended_at - created <= a.ended_at - a.created) >= " + std::to_string(percent) +
        " * (SELECT count(*) " + delivered + "))");
  };
  EXPECT_EQ(report.lead->median.count(), rank(50));
  EXPECT_EQ(report.lead->ninth_decile.count(), rank(90));
  for (std::size_t k = 0; k < 3; ++k)
    EXPECT_EQ(report.hours[k].delivered, count(delivered + " AND (ended_at - " + ms(range.from) +
                                               ") / 3600000 = " + std::to_string(k)));
  const std::string due = "FROM jobs WHERE due >= " + ms(range.from) + " AND due < " + ms(range.to);
  EXPECT_EQ(report.due.jobs, count(due));
  EXPECT_EQ(report.due.late, count(due + " AND state = 'delivered' AND ended_at > due"));
  EXPECT_EQ(report.due.on_time, count(due + " AND state = 'delivered' AND ended_at <= due"));
  EXPECT_EQ(report.due.ended_otherwise, count(due + " AND state = 'cancelled'"));
  ASSERT_FALSE(report.tags.empty());
  std::int64_t missed = 0;
  for (const figures::TagRow& tag : report.tags) {
    EXPECT_EQ(tag.read, number("SELECT count(*) FROM reads WHERE point = '" + tag.point + "'"));
    EXPECT_EQ(tag.missed, number("SELECT coalesce(max(count), 0) FROM missed_tags WHERE point = '" +
                                 tag.point + "'"));
    missed += tag.missed;
  }
  EXPECT_GT(missed, 20);
}

TEST_F(FigureRowsTest, ReadingGoesOnBesideAWriterAndWritingBesideAReader) {
  read_tag(0, 0);
  SQLite::Database other(folder.database().string(), SQLite::OPEN_READWRITE);
  other.exec("BEGIN IMMEDIATE");
  EXPECT_EQ(rows(0, one_hour).tags.size(), 1u);
  other.exec("ROLLBACK");
  SQLite::Database reader(folder.database().string(), SQLite::OPEN_READONLY);
  reader.exec("BEGIN");
  EXPECT_EQ(reader.execAndGet("SELECT count(*) FROM tag_quarters").getInt(), 1);
  read_tag(1, 1);
  EXPECT_EQ(rows(0, one_hour).tags.size(), 2u);
}

TEST_F(FigureRowsTest, MoreThanTheLimitIsRefused) {
  for (std::uint64_t id = 1; id <= 3; ++id) put(ended(id, control::JobState::delivered, 0, 5));
  EXPECT_EQ(rows(0, one_hour, {.jobs = 3, .time = std::chrono::seconds{5}}).delivered.size(), 3u);
  EXPECT_THROW((void)rows(0, one_hour, {.jobs = 2, .time = std::chrono::seconds{5}}), TooMuch);
  for (int k = 0; k < 200; ++k) read_tag(k * 15 * one_minute, 0);
  run_sql(folder.database(),
          "WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 200000) "
          "INSERT INTO tag_quarters SELECT 1800000000000 + i, 'X', 1, 0 FROM n WHERE i > 0");
  EXPECT_THROW((void)rows(0, one_hour, {.jobs = 9, .time = std::chrono::milliseconds{0}}), TooMuch);
}

TEST_F(FigureRowsTest, OldSumsGo) {
  read_tag(0, 0);
  read_tag(100 * 24 * one_hour, 0);
  Batch batch;
  batch.sums.carts = {{at(0), CartIx{1}, figures::Use::waiting, Duration{4'000}}};
  batch.sums.merges = {{at(0), PointIx{1}, 1, Duration{4'000}}};
  write(batch);
  store->tidy(at(100 * 24 * one_hour), std::chrono::days{10});
  const figures::Rows found = rows(0, 101 * 24 * one_hour);
  EXPECT_THAT(found.carts, IsEmpty());
  EXPECT_THAT(found.merges, IsEmpty());
  ASSERT_EQ(found.tags.size(), 1u);
  EXPECT_EQ(found.tags[0].read, 1);
}

}  // namespace
}  // namespace tagline::store::test
