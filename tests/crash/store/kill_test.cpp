// I6 under kill -9: what write() has returned for is there afterwards. This proves atomicity and
// that nothing is kept back in the process; that it also survives a loss of power rests on the
// sync before each return, which sync_test.cpp checks.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <random>
#include <thread>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

constexpr int rounds = 30;
constexpr std::uint64_t jobs_per_write = 3;

/// Writes groups of jobs and a path until killed; tells the pipe the last job of each group once
/// write() has returned.
[[noreturn]] void write_for_ever(const std::filesystem::path& data, const Works& works,
                                 std::uint64_t next, int pipe) {
  Store store(data, works.ways, three_carts);
  const auto path = path_to(works.ways, "K", 1);
  while (true) {
    std::vector<Batch> group;
    for (std::uint64_t n = 0; n < jobs_per_write; ++n, ++next) {
      control::Job job = queued_job(next, static_cast<std::int64_t>(next));
      job.key = "key-" + std::to_string(next);
      job.via = {{StationIx{2}, control::Handling::unload}};
      job.due = at(static_cast<std::int64_t>(next) + 1);
      group.push_back(batch({control::JobRecord{job},
                             control::PathRecord{CartIx{0}, next, control::JobId{next}, path},
                             control::StationRecord{StationIx{2}, static_cast<int>(next)}}));
    }
    store.write(at(static_cast<std::int64_t>(next)), group);
    const std::uint64_t told = next - 1;
    if (::write(pipe, &told, sizeof told) != sizeof told) ::_exit(1);
  }
}

TEST(KillNine, NoReportedJobIsEverLost) {
  const Works works;
  const TempFolder folder;
  std::mt19937 random(20261125);
  std::uniform_int_distribution<int> delay_us(0, 40'000);
  std::uint64_t last_found = 0;
  std::uint64_t all_reported = 0;
  int rounds_with_reports = 0;

  for (int round = 0; round < rounds; ++round) {
    int pipe[2];
    ASSERT_EQ(::pipe(pipe), 0);
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      ::close(pipe[0]);
      write_for_ever(folder.data(), works, last_found + 1, pipe[1]);
    }
    ::close(pipe[1]);
    std::uint64_t reported = 0;
    std::uint64_t told = 0;
    // The clock starts with the first report, else a slow start would be all that is killed.
    // Every fifth round kills in the start itself.
    if (round % 5 != 0 && ::read(pipe[0], &told, sizeof told) == sizeof told) reported = told;
    std::this_thread::sleep_for(std::chrono::microseconds(delay_us(random)));
    ASSERT_EQ(::kill(child, SIGKILL), 0);
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the child ended by itself, status " << status;
    while (::read(pipe[0], &told, sizeof told) == sizeof told) reported = told;
    ::close(pipe[0]);
    if (reported > 0) ++rounds_with_reports;

    Store store(folder.data(), works.ways, three_carts);
    const Found found = store.load(at(0));
    const auto& jobs = found.restored.jobs;
    ASSERT_GE(jobs.size(), std::max(reported, last_found)) << "round " << round;
    // At most the one group whose report was cut off is there besides, and it is whole.
    ASSERT_LE(jobs.size(), std::max(reported, last_found) + jobs_per_write) << "round " << round;
    ASSERT_EQ(jobs.size() % jobs_per_write, 0U) << "round " << round;
    for (std::size_t ix = 0; ix < jobs.size(); ++ix) {
      ASSERT_EQ(jobs[ix].id.value, ix + 1);
      ASSERT_EQ(jobs[ix].key, "key-" + std::to_string(ix + 1));
      ASSERT_EQ(jobs[ix].via.size(), 1U);
      ASSERT_EQ(jobs[ix].due, at(static_cast<std::int64_t>(ix) + 2));
    }
    ASSERT_EQ(found.restored.last_job, jobs.size());
    if (!jobs.empty()) {
      ASSERT_EQ(found.restored.paths.size(), 1U);
      ASSERT_EQ(found.restored.paths[0].trip, jobs.size()) << "path and job of one group";
      ASSERT_EQ(found.restored.stations.size(), 1U);
      ASSERT_EQ(found.restored.stations[0].loads, static_cast<int>(jobs.size()));
    }
    last_found = jobs.size();
    all_reported = std::max(all_reported, reported);
  }
  EXPECT_GE(rounds_with_reports, rounds / 2) << "the kills came too early to prove anything";
  RecordProperty("jobs_reported", std::to_string(all_reported));
  EXPECT_EQ(query(folder.database(), "SELECT count(*) FROM job_events"),
            std::vector<std::string>{std::to_string(last_found)});
}

}  // namespace
}  // namespace tagline::store::test
