// Damage in the history: it doesn't keep the service from starting, and it is found behind it.
#include "server/store/whole_check.hpp"

#include <gmock/gmock.h>

#include <fstream>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

class WholeCheckOf : public ::testing::Test {
 protected:
  /// A database with some history, closed again.
  void SetUp() override {
    Store store(folder.data(), works.ways, three_carts);
    Batch many;
    for (std::uint64_t id = 1; id <= 50; ++id)
      many.records.emplace_back(control::JobRecord{queued_job(id)});
    for (control::Step step = 1; step <= 5'000; ++step)
      many.trace.push_back({at(0), control::ReadTrace{CartIx{0}, PointIx{0}, step, {}}});
    write(store, 0, many);
  }
  /// Overwrites the first page of a table.
  void damage(const std::string& table) {
    const auto page = std::stoll(
        query(folder.database(), "SELECT rootpage FROM sqlite_schema WHERE name = '" + table + "'")
            .at(0));
    const auto size = std::stoll(query(folder.database(), "PRAGMA page_size").at(0));
    std::fstream file(folder.database(), std::ios::in | std::ios::out | std::ios::binary);
    file.seekp((page - 1) * size);
    file << std::string(static_cast<std::size_t>(size), 'x');
  }
  std::vector<std::string> found() {
    std::vector<std::string> told;
    WholeCheck check(folder.data(), [&](const std::string& what) { told.push_back(what); });
    check.wait();
    return told;
  }

  TempFolder folder;
  Works works;
};

TEST_F(WholeCheckOf, ASoundDatabaseSaysNothing) { EXPECT_THAT(found(), IsEmpty()); }

TEST_F(WholeCheckOf, DamagedHistoryIsToldAndJobsAreServed) {
  for (const char* table : {"reads", "job_events"}) {
    damage(table);
    Store store(folder.data(), works.ways, three_carts);
    EXPECT_EQ(store.load(at(0)).restored.jobs.size(), 50u);
    EXPECT_THAT(found(),
                ElementsAre(AllOf(HasSubstr("damaged in its history"),
                                  HasSubstr(folder.database().string()), HasSubstr("backup"))));
  }
}

TEST_F(WholeCheckOf, WhatRecoveryReadsIsCheckedAtTheStart) {
  for (const char* table :
       {"service", "jobs", "jobs_by_key", "paths", "passed", "carts", "station_loads"}) {
    const auto whole = folder.path() / "whole.db";
    std::filesystem::copy_file(folder.database(), whole,
                               std::filesystem::copy_options::overwrite_existing);
    damage(table);
    EXPECT_THAT(refusal([&] { Store(folder.data(), works.ways, three_carts); }),
                AllOf(HasSubstr("damaged"), HasSubstr("backup")))
        << table;
    std::filesystem::copy_file(whole, folder.database(),
                               std::filesystem::copy_options::overwrite_existing);
  }
}

TEST_F(WholeCheckOf, ItLeavesOffWhenTheServiceStops) {
  std::vector<std::string> told;
  {
    const WholeCheck check(folder.data(), [&](const std::string& what) { told.push_back(what); });
  }
  EXPECT_THAT(told, IsEmpty());
}

}  // namespace
}  // namespace tagline::store::test
