// Backups: made from a store in use, put back, refused, and interrupted.
#include "server/store/backup.hpp"

#include <gmock/gmock.h>

#include <fstream>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;

class Backups : public testing::Test {
 protected:
  Works works;
  TempFolder folder;
  std::filesystem::path copy{folder.path() / "copy.db"};

  void write_job(Store& store, std::uint64_t id) {
    Batch batch;
    batch.records.emplace_back(control::JobRecord{queued_job(id)});
    store.write(at(static_cast<int>(id)), std::span(&batch, 1));
  }
  Found open_and_load() {
    Store store(folder.data(), works.ways, three_carts);
    return store.load(at(100));
  }
  static std::vector<std::uint64_t> ids(const Found& found) {
    std::vector<std::uint64_t> result;
    for (const control::Job& job : found.restored.jobs) result.push_back(job.id.value);
    return result;
  }
  std::vector<std::string> names_in_folder() {
    std::vector<std::string> names;
    for (const auto& entry : std::filesystem::directory_iterator(folder.data())) {
      names.push_back(entry.path().filename().string());
    }
    return names;
  }
};

TEST_F(Backups, OfAStoreInUseHoldsAllThatWasWrittenBefore) {
  Store store(folder.data(), works.ways, three_carts);
  (void)store.load(at(0));
  write_job(store, 1);
  write_job(store, 2);
  const BackupFacts facts = back_up(folder.data(), copy);
  write_job(store, 3);
  EXPECT_EQ(facts.all_jobs, 2U);
  EXPECT_EQ(facts.open_jobs, 2U);
  EXPECT_EQ(facts.latest, at(2));
  EXPECT_EQ(facts.bytes, std::filesystem::file_size(copy));
  EXPECT_EQ(query(copy, "SELECT id FROM jobs ORDER BY id"), (std::vector<std::string>{"1", "2"}));
  // One file, readable by its owner only.
  EXPECT_FALSE(std::filesystem::exists(copy.string() + "-wal"));
  EXPECT_FALSE(std::filesystem::exists(copy.string() + ".draft"));
  EXPECT_EQ(std::filesystem::status(copy).permissions(),
            std::filesystem::perms::owner_read | std::filesystem::perms::owner_write);
}

TEST_F(Backups, PutBackHoldsWhatWasInItAndTrustsNoPosition) {
  {
    Store store(folder.data(), works.ways, three_carts);
    (void)store.load(at(0));
    write_job(store, 1);
    Batch batch;
    batch.records.emplace_back(control::PathRecord{
        .cart = CartIx{0}, .trip = 1, .job = {}, .path = path_to(works.ways, "C", 1)});
    store.write(at(2), std::span(&batch, 1));
    (void)back_up(folder.data(), copy);
    write_job(store, 3);
  }
  const BackupFacts facts = restore(folder.data(), copy, at(50));
  EXPECT_EQ(facts.all_jobs, 1U);
  const Found found = open_and_load();
  EXPECT_EQ(ids(found), (std::vector<std::uint64_t>{1}));
  EXPECT_TRUE(found.from_backup);
  EXPECT_TRUE(found.restored.fleet.all_stopped);
  EXPECT_TRUE(found.restored.paths.empty());
  ASSERT_EQ(found.restored.carts.size(), 1U);
  EXPECT_THAT(found.restored.carts[0].doubt, HasSubstr("put back from a backup"));
  EXPECT_TRUE(found.restored.carts[0].needs_release);
  EXPECT_THAT(found.notes, Contains(AllOf(HasSubstr("backup that ends at"),
                                          HasSubstr("say for every cart where it stands"))));
  // Told once: the next start knows what was done since.
  const Found again = open_and_load();
  EXPECT_FALSE(again.from_backup);
  // The other record is kept, whole.
  const auto names = names_in_folder();
  const auto kept = std::ranges::find_if(names, [](const std::string& name) {
    return name.starts_with("tagline.db.replaced-") && !name.ends_with("-wal") &&
           !name.ends_with("-shm");
  });
  ASSERT_NE(kept, names.end());
  EXPECT_EQ(query(folder.data() / *kept, "SELECT id FROM jobs ORDER BY id"),
            (std::vector<std::string>{"1", "3"}));
}

TEST_F(Backups, GoesIntoAFolderThatIsNew) {
  {
    Store store(folder.data(), works.ways, three_carts);
    (void)store.load(at(0));
    write_job(store, 1);
  }
  (void)back_up(folder.data(), copy);
  std::filesystem::remove_all(folder.data());
  (void)restore(folder.data(), copy, at(50));
  EXPECT_EQ(ids(open_and_load()), (std::vector<std::uint64_t>{1}));
  EXPECT_THAT(names_in_folder(), testing::Not(Contains(HasSubstr("replaced"))));
}

TEST_F(Backups, RefusalsChangeNothing) {
  EXPECT_THAT(refusal([&] { (void)back_up(folder.data(), copy); }), HasSubstr("no database"));
  Store store(folder.data(), works.ways, three_carts);
  (void)store.load(at(0));
  write_job(store, 1);
  (void)back_up(folder.data(), copy);
  EXPECT_THAT(refusal([&] { (void)back_up(folder.data(), copy); }), HasSubstr("exists already"));
  // The service runs.
  EXPECT_THAT(refusal([&] { (void)restore(folder.data(), copy, at(50)); }), HasSubstr("in use"));
}

TEST_F(Backups, WhatIsNoGoodBackupIsRefusedAndTheRecordStays) {
  {
    Store store(folder.data(), works.ways, three_carts);
    (void)store.load(at(0));
    write_job(store, 1);
  }
  const auto refused = [&](const std::filesystem::path& from) {
    const std::string why = refusal([&] { (void)restore(folder.data(), from, at(50)); });
    EXPECT_EQ(ids(open_and_load()), (std::vector<std::uint64_t>{1})) << why;
    EXPECT_THAT(names_in_folder(), testing::Not(Contains(HasSubstr("restoring"))));
    return why;
  };
  EXPECT_THAT(refused(folder.path() / "nowhere.db"), HasSubstr("There is no backup"));
  std::ofstream(folder.path() / "text.db") << std::string(8192, 'x');
  EXPECT_THAT(refused(folder.path() / "text.db"), HasSubstr("not a database"));
  (void)back_up(folder.data(), copy);
  run_sql(copy, "PRAGMA user_version = 99");
  EXPECT_THAT(refused(copy), HasSubstr("newer version"));
  // A page in the middle overwritten.
  const auto damaged = folder.path() / "damaged.db";
  (void)back_up(folder.data(), damaged);
  std::fstream file(damaged, std::ios::in | std::ios::out | std::ios::binary);
  file.seekp(4096 * 2);
  file << std::string(4096, '\x5a');
  file.close();
  EXPECT_THAT(refused(damaged), HasSubstr("damaged"));
}

TEST_F(Backups, AnInterruptedOneKeepsTheServiceFromStarting) {
  {
    Store store(folder.data(), works.ways, three_carts);
    (void)store.load(at(0));
    write_job(store, 1);
  }
  (void)back_up(folder.data(), copy);
  std::filesystem::copy_file(copy, folder.data() / "tagline.db.restoring");
  const auto starting = [&] {
    return refusal([&] { Store store(folder.data(), works.ways, three_carts); });
  };
  EXPECT_THAT(starting(), HasSubstr("tagline restore"));
  // Nor may a second try with a file that is no good let it start.
  const auto bad = folder.path() / "bad.db";
  std::ofstream(bad) << "this is no database, though it is long enough to be looked at as one";
  EXPECT_NE(refusal([&] { (void)restore(folder.data(), bad, at(40)); }), "");
  EXPECT_THAT(starting(), HasSubstr("tagline restore"));
  (void)restore(folder.data(), copy, at(50));
  EXPECT_EQ(ids(open_and_load()), (std::vector<std::uint64_t>{1}));
}

}  // namespace
}  // namespace tagline::store::test
