// The migration mechanism, on steps made up for the test.
#include "server/store/schema.hpp"

#include <gmock/gmock.h>

#include <array>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

constexpr std::array steps{
    Migration{1, "CREATE TABLE bins (id INTEGER PRIMARY KEY) STRICT; INSERT INTO bins VALUES (4);"},
    Migration{2, "ALTER TABLE bins ADD COLUMN colour TEXT NOT NULL DEFAULT 'grey';"},
    Migration{3, "CREATE TABLE shelves (id INTEGER PRIMARY KEY) STRICT;"}};

class Schema : public testing::Test {
 protected:
  void bring_up_to_date(std::span<const Migration> with) {
    SQLite::Database database(file.string(), SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    check_version(database, with, file);
    migrate(database, with);
  }
  std::string version() { return query(file, "PRAGMA user_version").at(0); }
  TempFolder folder;
  std::filesystem::path file{folder.path() / "old.db"};
};

TEST_F(Schema, AnOlderDatabaseGetsOnlyTheStepsItLacks) {
  bring_up_to_date(std::span(steps).first(1));
  EXPECT_EQ(version(), "1");
  run_sql(file, "INSERT INTO bins VALUES (5)");
  bring_up_to_date(steps);
  EXPECT_EQ(version(), "3");
  EXPECT_THAT(query(file, "SELECT id, colour FROM bins ORDER BY id"),
              ElementsAre("4|grey", "5|grey"));
  bring_up_to_date(steps);  // nothing left to do
  EXPECT_EQ(version(), "3");
}

TEST_F(Schema, AStepThatFailsLeavesTheVersionBeforeItWhole) {
  const std::array broken{steps[0], steps[1],
                          Migration{3,
                                    "CREATE TABLE shelves (id INTEGER); DROP TABLE bins; "
                                    "INSERT INTO nowhere VALUES (1);"}};
  EXPECT_THROW(bring_up_to_date(broken), SQLite::Exception);
  EXPECT_EQ(version(), "2");
  EXPECT_THAT(query(file, "SELECT id, colour FROM bins"), ElementsAre("4|grey"));
  EXPECT_THAT(query(file, "SELECT name FROM sqlite_schema"), ElementsAre("bins"));
  bring_up_to_date(steps);
  EXPECT_EQ(version(), "3");
}

TEST_F(Schema, ADatabaseTooOldToStartFromIsRefused) {
  bring_up_to_date(std::span(steps).first(1));
  EXPECT_THAT(refusal([&] { bring_up_to_date(std::span(steps).last(1)); }),
              HasSubstr("too old for this program (schema 1; it can start from 2)"));
  EXPECT_EQ(version(), "1");
}

TEST_F(Schema, JobsOfVersion1KnowTheirStopsInVersion2) {
  bring_up_to_date(migrations().first(1));
  const auto job = [&](int id, const std::string& state, const std::string& loaded_at) {
    run_sql(file,
            "INSERT INTO jobs (id, from_station, to_station, state, priority, note, key, "
            "cart, created, changed, loaded_at, ended_at, reason) VALUES (" +
                std::to_string(id) + ", 'CAST', 'GLAZE', '" + state +
                "', 5, 'n', '', NULL, 1, 2, " + loaded_at + ", NULL, '')");
  };
  job(1, "queued", "NULL");
  job(2, "assigned", "NULL");
  job(3, "loaded", "4");
  job(4, "delivered", "4");
  job(5, "cancelled", "NULL");
  job(6, "stranded", "4");
  bring_up_to_date(migrations());
  EXPECT_EQ(version(), std::to_string(schema_version));
  EXPECT_THAT(query(file, "SELECT id, stops_done, via, due IS NULL, note FROM jobs ORDER BY id"),
              ElementsAre("1|0||1|n", "2|0||1|n", "3|1||1|n", "4|2||1|n", "5|0||1|n", "6|1||1|n"));
  EXPECT_THAT(query(file, "SELECT count(*) FROM station_loads"), ElementsAre("0"));
}

TEST_F(Schema, AStoreOfVersion1IsTakenOver) {
  const Works works;
  {
    std::filesystem::create_directories(folder.data());
    SQLite::Database database(folder.database().string(),
                              SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
    migrate(database, migrations().first(1));
    database.exec(
        "INSERT INTO jobs VALUES (7, 'CAST', 'GLAZE', 'loaded', 9, 'n', 'k', 'cart-2', "
        "1800000000000, 1800000000002, 1800000000002, NULL, '')");
    database.exec("UPDATE service SET last_job = 7, latest = 1800000000002");
  }
  Store store(folder.data(), works.ways, three_carts);
  const Found found = store.load(at(10));
  ASSERT_EQ(found.restored.jobs.size(), 1U);
  control::Job expected = queued_job(7);
  expected.to = StationIx{2};
  expected.state = control::JobState::loaded;
  expected.stops_done = 1;
  expected.priority = 9;
  expected.note = "n";
  expected.key = "k";
  expected.cart = CartIx{1};
  expected.changed = at(2);
  expected.loaded_at = at(2);
  EXPECT_EQ(fields(found.restored.jobs[0]), fields(expected));
  EXPECT_EQ(found.restored.last_job, 7U);
}

TEST_F(Schema, TheRealStepsAreNumberedWithoutGapsAndEndAtTheVersionWritten) {
  int expected = 0;
  for (const Migration& step : migrations()) EXPECT_EQ(step.to, ++expected);
  EXPECT_EQ(expected, schema_version);
  bring_up_to_date(migrations());
  EXPECT_EQ(version(), std::to_string(schema_version));
  EXPECT_THAT(query(file,
                    "SELECT name FROM pragma_table_list WHERE schema = 'main' AND "
                    "type = 'table' AND NOT strict AND name NOT LIKE 'sqlite%'"),
              ElementsAre());
}

}  // namespace
}  // namespace tagline::store::test
