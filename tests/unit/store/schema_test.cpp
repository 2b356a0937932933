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
