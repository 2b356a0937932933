// What is too old goes, a little at a time, and nothing that is still needed.
#include <gmock/gmock.h>

#include "server/store/runs.hpp"
#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::ElementsAre;

constexpr std::int64_t day = 24LL * 3600 * 1000;
constexpr Duration ten_days{10 * day};

class RetentionTest : public testing::Test {
 protected:
  void write(Batch batch, std::int64_t ms) { store.write(at(ms), std::span(&batch, 1)); }
  void put(const control::Job& job) { write({{control::JobRecord{job}}, {}}, ms_of(job.changed)); }
  static std::int64_t ms_of(Instant moment) { return (moment - at(0)).count(); }
  /// A job asked for at `ms` that ends a second later.
  void ended_job(std::uint64_t id, std::int64_t ms, const std::string& key = "") {
    control::Job job = queued_job(id, ms);
    job.key = key;
    put(job);
    job.state = control::JobState::delivered;
    job.changed = at(ms + 1'000);
    job.ended_at = job.changed;
    put(job);
  }
  void reads(std::size_t count, std::int64_t ms) {
    Batch batch;
    for (std::size_t k = 0; k < count; ++k)
      batch.trace.push_back({at(ms), control::ReadTrace{CartIx{0}, PointIx{1}, k, {}}});
    write(std::move(batch), ms);
  }
  /// A run from `ms` on with so many events, `apart` ms apart.
  void run(std::int64_t ms, std::size_t count, const std::string& floor = "{}",
           std::int64_t apart = 1'000) {
    store.begin_run({"0.1.0", "Small pottery", floor, {three_carts, {}, {}, at(ms)}});
    Batch batch;
    for (std::size_t k = 0; k < count; ++k)
      batch.events.push_back({at(ms + apart * static_cast<std::int64_t>(k)),
                              control::CartReads{{0}, "04A1B2C3D4E5F6", k},
                              {replay::Digest::What::something, k}});
    write(std::move(batch), ms);
  }
  void tidy(std::int64_t ms, int times = 1) {
    for (; times > 0; --times) store.tidy(at(ms), ten_days);
  }
  std::string ask(const std::string& sql) { return query(folder.database(), sql).at(0); }
  std::vector<std::string> run_numbers() {
    return query(folder.database(), "SELECT run FROM runs ORDER BY run");
  }

  Works works;
  TempFolder folder;
  Store store{folder.data(), works.ways, three_carts};
};

TEST_F(RetentionTest, ReadsGoALittleAtATimeAndTheYoungOnesStay) {
  reads(1'200, 0);
  reads(30, 5 * day);
  tidy(9 * day);
  EXPECT_EQ(ask("SELECT count(*) FROM reads"), "1230");
  tidy(11 * day);
  EXPECT_EQ(ask("SELECT count(*) FROM reads"), "730");
  tidy(11 * day, 5);
  EXPECT_EQ(ask("SELECT count(*) FROM reads"), "30");
  EXPECT_EQ(ask("SELECT min(at) FROM reads"),
            std::to_string(at(5 * day).time_since_epoch().count()));
}

TEST_F(RetentionTest, EndedJobsGoWithWhatHappenedToThemAndOpenOnesNever) {
  control::Job open = queued_job(1, 0);
  put(open);
  open.state = control::JobState::loaded;
  open.cart = CartIx{0};
  open.stops_done = 1;
  open.changed = at(1);
  put(open);
  ended_job(2, 0);
  ended_job(3, 15 * day);
  control::Job late = queued_job(4, 0);  // asked for long ago, ended just now
  put(late);
  late.state = control::JobState::cancelled;
  late.changed = at(29 * day);
  late.ended_at = late.changed;
  put(late);
  tidy(30 * day, 3);
  EXPECT_THAT(query(folder.database(), "SELECT id FROM jobs ORDER BY id"), ElementsAre("1", "4"));
  EXPECT_THAT(query(folder.database(), "SELECT job, state FROM job_events ORDER BY seq"),
              ElementsAre("1|queued", "1|loaded", "4|cancelled"));
  const Found found = store.load(at(30 * day));
  ASSERT_EQ(found.restored.jobs.size(), 2U);
  EXPECT_EQ(found.restored.jobs[0].state, control::JobState::loaded);
  // Numbers are not given twice.
  EXPECT_EQ(found.restored.last_job, 4U);
}

TEST_F(RetentionTest, ManyJobsThatAreOpenForLongKeepNothingElseFromGoing) {
  for (std::uint64_t id = 1; id <= 700; ++id) put(queued_job(id, 0));
  ended_job(701, 1);
  tidy(30 * day, 2);
  EXPECT_EQ(ask("SELECT count(*) FROM jobs"), "700");
  EXPECT_EQ(ask("SELECT count(*) FROM job_events"), "700");
}

TEST_F(RetentionTest, AKeyIsRememberedForADayHoweverLittleIsKept) {
  ended_job(1, 0, "k");
  store.tidy(at(day - 1), Duration{0});
  EXPECT_EQ(ask("SELECT key FROM jobs"), "k");
  store.tidy(at(day + 2'000), Duration{0});
  EXPECT_EQ(ask("SELECT count(*) FROM jobs"), "0");
}

TEST_F(RetentionTest, RunsGoAsAWholeAndNeverTheLatest) {
  run(0, 10'000, "{\"old\":1}");
  run(1 * day, 20, "{}");
  run(2 * day, 0, "{}");
  run(3 * day, 800, "{}", day / 100);  // its start is old, its last events are not
  run(12 * day, 5, "{}");
  const std::string all_blocks = ask("SELECT count(*) FROM run_events");
  tidy(10 * day);
  EXPECT_THAT(run_numbers(), ElementsAre("1", "2", "3", "4", "5"));
  EXPECT_EQ(ask("SELECT count(*) FROM run_events"), all_blocks);
  tidy(20 * day);
  EXPECT_THAT(run_numbers(), ElementsAre("2", "3", "4", "5"));
  EXPECT_EQ(ask("SELECT count(*) FROM run_floors"), "1");
  tidy(20 * day, 10);
  EXPECT_THAT(run_numbers(), ElementsAre("4", "5"));
  EXPECT_EQ(ask("SELECT count(*) FROM run_events WHERE run < 4"), "0");
  // Run 4 is whole.
  EXPECT_EQ(ask("SELECT min(first) || ' ' || sum(count) FROM run_events WHERE run = 4"), "1 800");
  const Runs runs(folder.data());
  EXPECT_EQ(runs.list().at(0).events, 800U);
  tidy(2'000 * day, 200);
  EXPECT_THAT(run_numbers(), ElementsAre("5"));
  EXPECT_EQ(ask("SELECT count(DISTINCT run) FROM run_events"), "1");
  EXPECT_EQ(ask("SELECT sum(count) FROM run_events"), "5");
}

TEST_F(RetentionTest, ANewRunNeverTakesTheNumbersOfBlocksThatWere) {
  run(0, 10);
  run(1 * day, 0);  // the latest, and it has no block
  tidy(30 * day, 3);
  EXPECT_EQ(ask("SELECT count(*) FROM run_events"), "0");
  run(31 * day, 3);
  const Runs runs(folder.data());
  const auto all = runs.list();
  ASSERT_EQ(all.size(), 2U);
  EXPECT_EQ(all[0].events, 0U);
  EXPECT_EQ(all[1].events, 3U);
}

TEST_F(RetentionTest, WithNothingTooOldNothingIsWritten) {
  reads(3, 0);
  ended_job(1, 0);
  run(0, 3);
  SQLite::Database watcher(folder.database().string(), SQLite::OPEN_READONLY);
  const int seen = watcher.execAndGet("PRAGMA data_version").getInt();
  tidy(1 * day, 3);
  EXPECT_EQ(watcher.execAndGet("PRAGMA data_version").getInt(), seen);
  tidy(11 * day);
  EXPECT_NE(watcher.execAndGet("PRAGMA data_version").getInt(), seen);
}

}  // namespace
}  // namespace tagline::store::test
