// The journal of runs: what is written is what a reader in another process finds.
#include "server/store/runs.hpp"

#include <gmock/gmock.h>

#include <fstream>
#include <iterator>

#include "server/store/schema.hpp"
#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

RunStart run_start(std::int64_t ms, const std::string& document = "{\"floor\": 1}") {
  return {"0.1.0", "Small pottery", document, {three_carts, {}, {}, at(ms)}};
}

replay::TimedEvent event(std::int64_t ms, std::uint64_t step) {
  return {at(ms),
          control::CartReads{{static_cast<std::uint32_t>(step % 3)}, "04A1B2C3D4E5F6", step},
          {replay::Digest::What::something, step * 7'919}};
}

Batch events(std::int64_t from, std::size_t count) {
  Batch batch;
  for (std::size_t k = 0; k < count; ++k) {
    const std::int64_t number = from + static_cast<std::int64_t>(k);
    batch.events.push_back(event(number * 100, static_cast<std::uint64_t>(number)));
  }
  return batch;
}

class RunsTest : public testing::Test {
 protected:
  void write(Store& store, const Batch& batch) { store.write(at(0), std::span(&batch, 1)); }
  /// The steps of all events of a run, in order; fails if blocks don't follow on one another.
  std::vector<control::Step> steps(const Runs& runs, std::int64_t run) {
    std::vector<control::Step> all;
    const auto source = runs.source(run).value();
    const auto start = replay::start_from(source.start, works.ways);
    const replay::EventReader reader(start.layout, replay::limits_of(works.ways, 3));
    for (std::int64_t next = source.first_block;;) {
      const auto blocks = runs.blocks(source, next);
      if (blocks.empty()) return all;
      for (const KeptBlock& block : blocks) {
        EXPECT_EQ(block.first, all.size() + 1);
        next = block.block + 1;
        const auto read = replay::read_block(block.events, block.begins, reader);
        for (const replay::Entry& entry : read.entries) {
          const auto& step = std::get<control::CartReads>(entry.event).step;
          EXPECT_EQ(entry.at, at(static_cast<std::int64_t>(step) * 100));
          all.push_back(step);
        }
      }
    }
  }
  static std::vector<control::Step> from_to(control::Step from, control::Step to) {
    std::vector<control::Step> all;
    for (; from <= to; ++from) all.push_back(from);
    return all;
  }
  Works works;
  TempFolder folder;
};

TEST_F(RunsTest, EventsComeBackInOrderWhateverTheyWereWrittenWith) {
  Store store(folder.data(), works.ways, three_carts);
  store.begin_run(run_start(0));
  std::int64_t next = 1;
  for (const std::size_t count : {1U, 1U, 2U, 300U, 1U, 40U, 7U, 200U, 1U})
    write(store, events(std::exchange(next, next + static_cast<std::int64_t>(count)), count));
  const Runs runs(folder.data());  // beside the open store
  EXPECT_EQ(steps(runs, 1), from_to(1, static_cast<control::Step>(next - 1)));
  // A row for each write would take a page's worth of heads.
  EXPECT_LT(std::stoi(query(folder.database(), "SELECT count(*) FROM run_events").at(0)), 16);
  EXPECT_EQ(query(folder.database(), "SELECT latest FROM service").at(0),
            std::to_string(at(0).time_since_epoch().count()));
}

TEST_F(RunsTest, EachStartOfTheServiceIsARunOfItsOwn) {
  {
    Store store(folder.data(), works.ways, three_carts);
    store.begin_run(run_start(0));
    write(store, events(1, 100));
    Batch end;
    end.ending = "stopped";
    write(store, end);
  }
  {
    Store store(folder.data(), works.ways, three_carts);
    store.begin_run(run_start(20'000));  // and killed before anything happened
  }
  {
    Store store(folder.data(), works.ways, three_carts);
    store.begin_run(run_start(30'000, "{\"floor\": 2}"));
    write(store, events(400, 3));
  }
  const Runs runs(folder.data());
  const auto all = runs.list();
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].run, 1);
  EXPECT_EQ(all[0].began, at(0));
  EXPECT_EQ(all[0].until, at(10'000));
  EXPECT_EQ(all[0].events, 100U);
  EXPECT_EQ(all[0].ending, "stopped");
  EXPECT_EQ(all[0].floor_name, "Small pottery");
  EXPECT_EQ(all[0].program, "0.1.0");
  EXPECT_EQ(all[1].events, 0U);
  EXPECT_EQ(all[1].until, at(20'000));
  EXPECT_EQ(all[1].ending, std::nullopt);
  EXPECT_EQ(all[2].events, 3U);
  EXPECT_EQ(steps(runs, 1), from_to(1, 100));
  EXPECT_THAT(steps(runs, 2), IsEmpty());
  EXPECT_EQ(steps(runs, 3), from_to(400, 402));
  EXPECT_EQ(runs.source(3)->floor_document, "{\"floor\": 2}");
  EXPECT_EQ(runs.source(4), std::nullopt);
  // An equal floor is kept once.
  EXPECT_EQ(query(folder.database(), "SELECT count(*) FROM run_floors").at(0), "2");
}

TEST_F(RunsTest, WithoutARunNoEventIsKept) {
  Store store(folder.data(), works.ways, three_carts);
  write(store, events(1, 5));
  EXPECT_EQ(query(folder.database(), "SELECT count(*) FROM run_events").at(0), "0");
}

TEST_F(RunsTest, WhatAFailedWriteBroughtIsNotInTheJournalAndWhatFollowsIsWhole) {
  Store store(folder.data(), works.ways, three_carts);
  store.begin_run(run_start(0));
  control::Job job = queued_job(1);
  job.key = "k";
  Batch first = events(1, 3);
  first.records.emplace_back(control::JobRecord{job});
  write(store, first);
  Batch bad = events(50, 200);  // more than a block
  job.id = {2};
  bad.records.emplace_back(control::JobRecord{job});  // another job has that key
  EXPECT_THAT(refusal([&] { write(store, bad); }), HasSubstr("rule of the database"));
  write(store, events(4, 150));
  EXPECT_EQ(steps(Runs(folder.data()), 1), from_to(1, 153));
}

TEST_F(RunsTest, ADatabaseOfSchema3GetsAnEmptyJournal) {
  std::filesystem::create_directories(folder.data());
  {
    SQLite::Database database(folder.database().string(),
                              SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    migrate(database, migrations().first(3));
    database.exec("UPDATE service SET last_job = 7");
  }
  EXPECT_THAT(refusal([&] { Runs(folder.data()); }), HasSubstr("before there was a journal"));
  Store store(folder.data(), works.ways, three_carts);
  const Runs runs(folder.data());
  EXPECT_THAT(runs.list(), IsEmpty());
  EXPECT_EQ(store.load(at(0)).restored.last_job, 7U);
  store.begin_run(run_start(0));
  write(store, events(1, 1));
  EXPECT_EQ(steps(runs, 1), from_to(1, 1));
}

TEST_F(RunsTest, WhatCanNotBeReadIsRefusedClearly) {
  EXPECT_THAT(refusal([&] { Runs(folder.data()); }), HasSubstr("There is no database in"));
  std::filesystem::create_directories(folder.data());
  std::ofstream(folder.database()) << "no database, but long enough to be told from an empty file";
  EXPECT_THAT(refusal([&] { Runs(folder.data()); }), HasSubstr("not a database"));
  std::filesystem::remove(folder.database());
  run_sql(folder.database(), "CREATE TABLE t (x); PRAGMA user_version = 4");
  EXPECT_THAT(refusal([&] { Runs(folder.data()); }), HasSubstr("another program"));
}

TEST_F(RunsTest, NothingIsWrittenByAReader) {
  {
    Store store(folder.data(), works.ways, three_carts);
    store.begin_run(run_start(0));
    write(store, events(1, 10));
  }
  const auto bytes = [&] {
    std::ifstream in(folder.database(), std::ios::binary);
    return std::string(std::istreambuf_iterator<char>(in), {});
  };
  const std::string before = bytes();
  EXPECT_EQ(steps(Runs(folder.data()), 1), from_to(1, 10));
  EXPECT_EQ(bytes(), before);
}

/// A page of the journal is lost: the service starts all the same, and a reader is told.
TEST_F(RunsTest, ADamagedJournalKeepsNoServiceFromStarting) {
  {
    Store store(folder.data(), works.ways, three_carts);
    store.begin_run(run_start(0));
    write(store, events(1, 3'000));
  }
  constexpr std::streamoff page = 4'096;
  std::string whole;
  {
    std::ifstream in(folder.database(), std::ios::binary);
    whole.assign(std::istreambuf_iterator<char>(in), {});
  }
  // The page of a block in the middle: its bytes are found where they lie in the file.
  const Runs before(folder.data());
  const auto blocks = before.blocks(before.source(1).value(), 0);
  const std::size_t found = whole.find(blocks.at(blocks.size() / 2).events);
  ASSERT_NE(found, std::string::npos);
  {
    std::fstream file(folder.database(), std::ios::binary | std::ios::in | std::ios::out);
    file.seekp(static_cast<std::streamoff>(found) / page * page);
    file.write("\xff\xff\xff\xff\xff\xff\xff\xff", 8);
  }
  {
    SQLite::Database database(folder.database().string(), SQLite::OPEN_READONLY);
    EXPECT_NE(database.execAndGet("PRAGMA quick_check(1)").getString(), "ok");
  }
  Store store(folder.data(), works.ways, three_carts);
  store.begin_run(run_start(900'000));
  write(store, events(10'000, 5));
  const Runs runs(folder.data());
  EXPECT_EQ(steps(runs, 2), from_to(10'000, 10'004));
  EXPECT_THAT(refusal([&] { steps(runs, 1); }), HasSubstr("damaged"));
}

}  // namespace
}  // namespace tagline::store::test
