// A disk that is full or fails, and proof that write() syncs before it returns. The test program
// defines the system calls that libsqlite3 makes through the C library, so SQLite meets the
// faults exactly where a disk would make them.
#include <gmock/gmock.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <limits>

#include "tests/unit/store/fixture.hpp"

namespace {

std::atomic<long> syncs{0};
std::atomic<bool> sync_fails{false};
/// How many more writes the disk takes before it is full.
std::atomic<long> writes_left{std::numeric_limits<long>::max()};

int sync_with(long call, int fd) {
  ++syncs;
  if (sync_fails) {
    errno = EIO;
    return -1;
  }
  return static_cast<int>(::syscall(call, fd));
}

}  // namespace

extern "C" int fsync(int fd) { return sync_with(SYS_fsync, fd); }
extern "C" int fdatasync(int fd) { return sync_with(SYS_fdatasync, fd); }
extern "C" ssize_t pwrite64(int fd, const void* data, size_t size, off64_t offset) {
  if (writes_left.fetch_sub(1) <= 0) {
    errno = ENOSPC;
    return -1;
  }
  return ::syscall(SYS_pwrite64, fd, data, size, offset);
}

namespace tagline::store::test {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::SizeIs;

class Disk : public testing::Test {
 protected:
  Disk() { heal(); }
  ~Disk() override { heal(); }
  static void heal() {
    writes_left = std::numeric_limits<long>::max();
    sync_fails = false;
  }
  Store open() { return Store(folder.data(), works.ways, three_carts); }
  Works works;
  TempFolder folder;
};

Batch jobs_from(std::uint64_t first, std::uint64_t last) {
  Batch jobs;
  for (std::uint64_t id = first; id <= last; ++id) {
    control::Job job = queued_job(id);
    job.note = std::string(200, 'n');
    jobs.records.emplace_back(control::JobRecord{job});
  }
  return jobs;
}

TEST_F(Disk, EveryWriteIsSyncedBeforeItReturns) {
  Store store = open();
  for (std::uint64_t id = 1; id <= 20; ++id) {
    const long before = syncs;
    write(store, 0, jobs_from(id, id));
    ASSERT_GT(syncs, before) << "job " << id;
  }
  const long before = syncs;
  write(store, 0, Batch{});
  EXPECT_EQ(syncs, before) << "nothing to write, nothing to sync";
}

TEST_F(Disk, FullAtAnyMomentLosesNothingAndLeavesNothingHalf) {
  long failures = 0;
  Store store = open();
  write(store, 0, jobs_from(1, 5));
  std::size_t kept = 5;
  for (long room = 0; room < 40; ++room) {
    writes_left = room;
    bool failed = false;
    try {
      write(store, 0, jobs_from(kept + 1, kept + 40));
      kept += 40;
    } catch (const StoreError& error) {
      failed = true;
      ++failures;
      EXPECT_THAT(error.what(), AllOf(HasSubstr("the disk is full"), HasSubstr("Free some space")));
    }
    heal();
    ASSERT_THAT(store.load(at(0)).restored.jobs, SizeIs(kept)) << "room " << room;
    if (!failed && failures > 0) break;  // from here on there is always room enough
  }
  EXPECT_GT(failures, 5);
  EXPECT_EQ(kept, 45U) << "the write that found room enough";
}

TEST_F(Disk, FullAndThenKilledFindsTheStateBefore) {
  {
    Store store = open();
    write(store, 0, jobs_from(1, 5));
    writes_left = 6;
    EXPECT_THROW(write(store, 0, jobs_from(6, 45)), StoreError);
    // Closing the store on the full disk must not do harm either.
  }
  heal();
  EXPECT_THAT(open().load(at(0)).restored.jobs, SizeIs(5));
}

TEST_F(Disk, FullOnOpening) {
  writes_left = 2;
  EXPECT_THAT(refusal([&] { open(); }), AllOf(HasSubstr("tagline.db"), HasSubstr("disk is full")));
  heal();
  EXPECT_THAT(open().load(at(0)).restored.jobs, SizeIs(0));
}

TEST_F(Disk, AFailedSyncIsAFailedWrite) {
  Store store = open();
  write(store, 0, jobs_from(1, 1));
  sync_fails = true;
  EXPECT_THAT(refusal([&] { write(store, 0, jobs_from(2, 2)); }),
              HasSubstr("the disk reported an error"));
  heal();
  EXPECT_THAT(store.load(at(0)).restored.jobs, SizeIs(1));
}

}  // namespace
}  // namespace tagline::store::test
