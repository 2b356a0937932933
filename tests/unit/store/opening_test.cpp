// Opening: what is made, and what is refused with words that help.
#include <gmock/gmock.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::AllOf;
using testing::HasSubstr;

mode_t mode_of(const std::filesystem::path& path) {
  struct stat status {};
  EXPECT_EQ(::stat(path.c_str(), &status), 0) << path;
  return status.st_mode & 0777U;
}

/// Takes away root's right to write anywhere, so that permissions mean something.
class AsNobody {
 public:
  AsNobody() : was_root_(::geteuid() == 0) {
    if (was_root_) {
      EXPECT_EQ(::seteuid(65534), 0);
    }
  }
  ~AsNobody() {
    if (was_root_) {
      EXPECT_EQ(::seteuid(0), 0);
    }
  }
  AsNobody(const AsNobody&) = delete;
  AsNobody& operator=(const AsNobody&) = delete;

 private:
  bool was_root_;
};

class Opening : public testing::Test {
 protected:
  Store open() { return Store(folder.data(), works.ways, three_carts); }
  std::string refused() {
    return refusal([&] { open(); });
  }
  Works works;
  TempFolder folder;
};

TEST_F(Opening, MakesAPrivateFolderAndDatabase) {
  const std::filesystem::path deep = folder.path() / "var" / "tagline";
  Store store(deep / "", works.ways, three_carts);
  write(store, 0, batch({control::FleetRecord{true}}));
  EXPECT_EQ(mode_of(deep), 0700U);
  for (const char* file : {"tagline.db", "tagline.db-wal", "tagline.db-shm", "tagline.lock"}) {
    EXPECT_EQ(mode_of(deep / file), 0600U) << file;
  }
}

TEST_F(Opening, TakesAPlainNameInTheCurrentFolder) {
  const auto before = std::filesystem::current_path();
  std::filesystem::create_directories(folder.data().parent_path());
  std::filesystem::current_path(folder.data().parent_path());
  EXPECT_NO_THROW(Store(folder.data().filename(), works.ways, three_carts));
  EXPECT_TRUE(std::filesystem::exists(folder.data() / "tagline.db"));
  std::filesystem::current_path(before);
}

TEST_F(Opening, ASecondServiceIsRefusedAndToldWhoHasIt) {
  {
    const Store first = open();
    EXPECT_THAT(refused(),
                AllOf(HasSubstr(folder.data().string()), HasSubstr("in use"),
                      HasSubstr("process " + std::to_string(::getpid())), HasSubstr("--data")));
  }
  open();  // free again
}

TEST_F(Opening, TheLockOfAServiceThatDiedIsFree) {
  const pid_t child = ::fork();
  if (child == 0) {
    auto* held = new Store(open());
    ::_exit(held == nullptr ? 1 : 0);  // no destructor runs, as in a crash
  }
  int status = 0;
  ASSERT_EQ(::waitpid(child, &status, 0), child);
  ASSERT_EQ(status, 0);
  ASSERT_TRUE(std::filesystem::exists(folder.data() / "tagline.lock"));
  open();
}

TEST_F(Opening, AFileInPlaceOfTheFolder) {
  std::ofstream(folder.data()) << "a file";
  EXPECT_THAT(refused(), AllOf(HasSubstr(folder.data().string()), HasSubstr("is a file"),
                               HasSubstr("--data")));
}

TEST_F(Opening, AFolderThatCannotBeMade) {
  const AsNobody limited;
  EXPECT_THAT(refused(), AllOf(HasSubstr("can't be made"), HasSubstr("Permission denied")));
}

TEST_F(Opening, AFolderThatCannotBeWritten) {
  std::filesystem::create_directory(folder.data());
  ASSERT_EQ(::chmod(folder.path().c_str(), 0755), 0);
  ASSERT_EQ(::chmod(folder.data().c_str(), 0555), 0);
  const AsNobody limited;
  EXPECT_THAT(refused(), AllOf(HasSubstr(folder.data().string()), HasSubstr("can't be written"),
                               HasSubstr("Permission denied")));
}

TEST_F(Opening, ADatabaseThatCannotBeWritten) {
  open();
  ASSERT_EQ(::chmod(folder.path().c_str(), 0755), 0);
  ASSERT_EQ(::chmod(folder.data().c_str(), 0777), 0);
  ASSERT_EQ(::chmod((folder.data() / "tagline.lock").c_str(), 0666), 0);
  ASSERT_EQ(::chmod(folder.database().c_str(), 0444), 0);
  const AsNobody limited;
  EXPECT_THAT(refused(), AllOf(HasSubstr("tagline.db can't be opened for writing"),
                               HasSubstr("Permission denied")));
}

TEST_F(Opening, WhatIsNoDatabase) {
  std::filesystem::create_directory(folder.data());
  std::ofstream(folder.database()) << "This is a letter, not a database.";
  EXPECT_THAT(refused(), AllOf(HasSubstr("tagline.db"), HasSubstr("not a database"),
                               HasSubstr("Move the file away")));
}

TEST_F(Opening, TheDatabaseOfAnotherProgram) {
  std::filesystem::create_directory(folder.data());
  run_sql(folder.database(), "CREATE TABLE glazes (name TEXT)");
  EXPECT_THAT(refused(), HasSubstr("another program"));
  run_sql(folder.database(), "PRAGMA user_version = 1");
  EXPECT_THAT(refused(), HasSubstr("another program"));
}

TEST_F(Opening, ADatabaseOfANewerVersionIsLeftUntouched) {
  open();
  const std::string newer = std::to_string(schema_version + 1);
  run_sql(folder.database(), "PRAGMA user_version = " + newer + "; PRAGMA journal_mode = DELETE");
  const auto size = std::filesystem::file_size(folder.database());
  EXPECT_THAT(refused(),
              AllOf(HasSubstr("newer version (schema " + newer + "; this program knows up to " +
                              std::to_string(schema_version) + ")"),
                    HasSubstr("Use that version"), HasSubstr("--data")));
  EXPECT_EQ(std::filesystem::file_size(folder.database()), size);
  EXPECT_EQ(query(folder.database(), "PRAGMA user_version"), std::vector<std::string>{newer});
  EXPECT_EQ(query(folder.database(), "PRAGMA journal_mode"), std::vector<std::string>{"delete"});
}

TEST_F(Opening, ADamagedDatabase) {
  {
    Store store = open();
    Batch many;
    for (std::uint64_t id = 1; id <= 500; ++id) {
      many.records.emplace_back(control::JobRecord{queued_job(id)});
    }
    write(store, 0, many);
  }
  {
    std::fstream file(folder.database(), std::ios::in | std::ios::out | std::ios::binary);
    file.seekp(8 * 4096);  // pages after the schema's
    file << std::string(8 * 4096, 'x');
  }
  EXPECT_THAT(refused(), AllOf(HasSubstr("damaged"), HasSubstr("backup")));
}

TEST_F(Opening, AJobInAStateThatNobodyKnows) {
  {
    Store store = open();
    write(store, 0, batch({control::JobRecord{queued_job(17)}}));
  }
  run_sql(folder.database(), "UPDATE jobs SET state = 'asleep'");
  Store store = open();
  EXPECT_THAT(refusal([&] { (void)store.job({17}); }),
              AllOf(HasSubstr("job 17"), HasSubstr("asleep")));
}

TEST_F(Opening, AJobWithStopsThatNobodyWrites) {
  {
    Store store = open();
    write(store, 0, batch({control::JobRecord{queued_job(17)}}));
  }
  for (const auto& [wrong, told] : {std::pair{"via = 'GLAZE'", "stops \"GLAZE\""},
                                    {"via = ':load'", "stops \":load\""},
                                    {"via = 'GLAZE:paint'", "stops \"GLAZE:paint\""},
                                    {"via = 'GLAZE:load  KILN:load'", "stops"},
                                    {"via = '', stops_done = 3", "done 3"},
                                    {"via = '', stops_done = -1", "done -1"}}) {
    run_sql(folder.database(), std::string("UPDATE jobs SET ") + wrong);
    Store store = open();
    EXPECT_THAT(refusal([&] { (void)store.job({17}); }),
                AllOf(HasSubstr("job 17"), HasSubstr(told)))
        << wrong;
  }
}

TEST_F(Opening, ACartNamedTwice) {
  EXPECT_THAT(refusal([&] {
                Store(folder.data(), works.ways, {"cart-1", "cart-1"});
              }),
              HasSubstr("\"cart-1\" is twice"));
}

}  // namespace
}  // namespace tagline::store::test
