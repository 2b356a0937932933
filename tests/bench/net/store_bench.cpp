// Storing measured against its limits, as ratios in one run (issue 4):
//   jobs   accepted jobs a second, through the engine and over HTTP, against raw SQLite making the
//          same commits: the same rows in groups of the same sizes, synchronous=FULL, WAL
//   start  from starting the process until it answers /api/health, with a year in its database:
//          5 million reads, 192,000 ended jobs
// Names of parts may be given as arguments; all run otherwise. --smoke makes it a few seconds long
// and judges nothing. Build it as Release. For `jobs` service and clients are threads of this
// process; for `start` the service is a process of its own.
#include <SQLiteCpp/SQLiteCpp.h>
#include <SQLiteCpp/VariadicBind.h>

#include <condition_variable>
#include <cstring>
#include <memory>
#include <mutex>
#include <stdexcept>
#include <thread>

#include "server/access/secret.hpp"
#include "server/app/store_journal.hpp"
#include "server/floor/track.hpp"
#include "server/net/engine.hpp"
#include "server/net/service.hpp"
#include "tests/bench/net/arguments.hpp"
#include "tests/bench/net/job_clients.hpp"
#include "tests/bench/net/ring_works.hpp"
#include "tests/bench/net/served.hpp"

namespace tagline::bench {
namespace {

using namespace std::chrono_literals;

constexpr RingSize small{1, 20};
/// In one slice: the service takes 2,000 open jobs, and none is delivered here.
constexpr std::size_t most_jobs = 1'900;

/// A small works with its service's parts, for one slice of time. No cart is on it, so a job taken
/// is a job queued.
struct Plant {
  RingWorks works{small};
  floor::Ways ways{works.floor()};
  floor::Track track{ways};
};

/// The real journal, which also notes how many records went into each commit.
class NotingJournal : public net::Journal {
 public:
  explicit NotingJournal(store::Store& store) : journal_(store, std::chrono::days{400}) {}
  void write(Instant now, std::span<const net::Batch> batches) override {
    std::size_t records = 0;
    for (const net::Batch& batch : batches) records += batch.records.size();
    journal_.write(now, batches);
    if (records > 0) groups.push_back(records);
  }
  std::optional<control::Job> job(control::JobId id) override { return journal_.job(id); }

  std::vector<std::size_t> groups;

 private:
  app::StoreJournal journal_;
};

/// What one slice did: its commits and how long they took altogether.
struct Slice {
  std::vector<std::size_t> groups;
  double seconds{};
  [[nodiscard]] std::size_t jobs() const {
    std::size_t sum = 0;
    for (const std::size_t group : groups) sum += group;
    return sum;
  }
};

/// Asks again for every answer until the time is up, from a thread of its own, as whoever asks
/// does.
class Asker : public net::Outbox {
 public:
  Asker(const Plant& plant, Steady::time_point until) : plant_(plant), until_(until) {}
  /// Returns when all is answered. Throws std::runtime_error if something is refused.
  void run(net::Engine& engine, std::size_t at_once) {
    for (std::size_t wanted = at_once; wanted > 0;) {
      for (; wanted > 0 && asked_ < most_jobs; --wanted) ask(engine);
      std::unique_lock lock(mutex_);
      wake_.wait(lock, [&] { return refused_ || answered_ > seen_; });
      if (refused_) throw std::runtime_error("a job was refused");
      const std::size_t more = answered_ - seen_;
      seen_ = answered_;
      wanted = Steady::now() < until_ && asked_ < most_jobs ? more : 0;
      if (wanted == 0) {
        wake_.wait(lock, [&] { return refused_ || answered_ == asked_; });
        if (refused_) throw std::runtime_error("a job was refused");
        return;
      }
    }
  }
  void release(net::Release one) override {
    const std::lock_guard lock(mutex_);
    for (const control::Answer& answer : one.answers) {
      if (!std::holds_alternative<control::JobTaken>(answer.what)) refused_ = true;
      ++answered_;
    }
    wake_.notify_one();
  }
  void store_failed(const std::string&) override { core_failed({}); }
  void core_failed(const std::string&) override {
    const std::lock_guard lock(mutex_);
    refused_ = true;
    wake_.notify_one();
  }

 private:
  void ask(net::Engine& engine) {
    control::AskJob wish;
    wish.request = ++asked_;
    wish.from = plant_.works.station(0, 0);
    wish.to = plant_.works.station(0, 1);
    engine.post(std::move(wish), std::nullopt);
  }

  const Plant& plant_;
  Steady::time_point until_;
  std::size_t asked_{0}, seen_{0};  // the asking thread's
  std::mutex mutex_;
  std::condition_variable wake_;
  std::size_t answered_{0};
  bool refused_{false};
};

Slice by_engine(const Plant& plant, std::size_t at_once, Steady::duration time) {
  const WorkFolder folder;
  store::Store store(folder.path() / "data", plant.ways, {"cart-1"});
  const net::ServiceClock clock(store.load({}).latest, 1);
  control::Core core(plant.track, {"cart-1"}, {}, {}, clock.now());
  NotingJournal journal(store);
  const auto begin = Steady::now();
  Asker asker(plant, begin + time);
  net::Engine engine(core, plant.works.floor().stations.size(), journal, clock, asker);
  engine.start();
  asker.run(engine, at_once);
  const double seconds = seconds_since(begin);
  engine.stop();
  return {journal.groups, seconds};
}

Slice by_http(const Plant& plant, std::size_t at_once, Steady::duration time) {
  const WorkFolder folder;
  store::Store store(folder.path() / "data", plant.ways, {"cart-1"});
  const net::ServiceClock clock(store.load({}).latest, 1);
  control::Core core(plant.track, {"cart-1"}, {}, {}, clock.now());
  NotingJournal journal(store);
  net::Network network;
  const std::uint16_t port = network.listen("127.0.0.1", 0);
  net::Entrance entrance;
  entrance.open_door = access::Role::operating;
  net::Service service({network,
                        plant.track,
                        core,
                        journal,
                        clock,
                        {{"cart-1", access::sha256("bench-key-of-cart-1")}},
                        folder.path(),
                        {},
                        "bench",
                        std::move(entrance)});
  std::thread serving([&] { service.run(); });
  const double seconds = post_jobs(port, at_once, time, most_jobs,
                                   R"({"from":")" + plant.works.station(0, 0) + R"(","to":")" +
                                       plant.works.station(0, 1) + "\"}");
  service.stop();
  serving.join();
  return {journal.groups, seconds};
}

/// The rows that accepted jobs become, in the same groups, by SQLite alone.
double by_sqlite(const Plant& plant, const std::vector<std::size_t>& groups) {
  const WorkFolder folder;
  { const store::Store schema(folder.path() / "data", plant.ways, {"cart-1"}); }
  SQLite::Database database((folder.path() / "data/tagline.db").string(), SQLite::OPEN_READWRITE);
  database.execAndGet("PRAGMA journal_mode = WAL");
  database.exec("PRAGMA synchronous = FULL");
  SQLite::Statement job(database,
                        "INSERT INTO jobs (id, from_station, to_station, state, priority, note, "
                        "key, cart, created, changed, loaded_at, ended_at, reason, via, "
                        "stops_done, due) VALUES (?, ?, ?, 'queued', 5, '', '', NULL, ?, ?, NULL, "
                        "NULL, '', '', 0, NULL)");
  SQLite::Statement event(database,
                          "INSERT INTO job_events (at, job, state, cart, reason) VALUES (?, ?, "
                          "'queued', NULL, '')");
  SQLite::Statement latest(database, "UPDATE service SET latest = ?, last_job = ?");
  const std::string from = plant.works.station(0, 0), to = plant.works.station(0, 1);
  std::int64_t id = 0;
  const auto run = [](SQLite::Statement& statement, const auto&... values) {
    SQLite::bind(statement, values...);
    statement.exec();
    statement.reset();
  };
  const auto begin = Steady::now();
  for (const std::size_t group : groups) {
    const std::int64_t now =
        std::chrono::duration_cast<Duration>(Steady::now().time_since_epoch()).count();
    SQLite::Transaction transaction(database, SQLite::TransactionBehavior::IMMEDIATE);
    for (std::size_t k = 0; k < group; ++k) {
      ++id;
      run(job, id, from, to, now, now);
      run(event, now, id);
    }
    run(latest, now, id);
    transaction.commit();
  }
  return seconds_since(begin);
}

void jobs_by(const char* what, Slice (*take)(const Plant&, std::size_t, Steady::duration),
             const Plant& plant, std::size_t at_once, bool smoke) {
  double ours = 0, raw = 0;
  std::size_t jobs = 0, commits = 0;
  for (int round = 0; round < (smoke ? 1 : 8); ++round) {
    const Slice slice = take(plant, at_once, smoke ? 300ms : 1000ms);
    ours += slice.seconds;
    raw += by_sqlite(plant, slice.groups);
    jobs += slice.jobs();
    commits += slice.groups.size();
  }
  if (jobs == 0) throw std::runtime_error("no job was taken");
  const auto count = static_cast<double>(jobs);
  const double ratio = raw / ours;
  std::printf(
      "  %-14s %3zu at once: %6.0f a second in groups of %.1f; SQLite alone %6.0f; ratio "
      "%.2f (limit 0.7); load average %.1f\n",
      what, at_once, count / ours, count / static_cast<double>(commits), count / raw, ratio,
      load_average());
  print_verdict(what, ratio >= 0.7, smoke);
}

void jobs(bool smoke) {
  std::printf("\nAccepted jobs a second, each durable before its answer; groups as they came\n");
  const Plant plant;
  for (const std::size_t at_once :
       smoke ? std::vector<std::size_t>{8} : std::vector<std::size_t>{8, 64, 256}) {
    jobs_by("by the engine", by_engine, plant, at_once, smoke);
    jobs_by("over HTTP", by_http, plant, at_once, smoke);
  }
}

/// 40 jobs an hour, 16 hours on 300 days, each with its four events; reads spread over the year.
void write_year(const std::filesystem::path& file, const Plant& plant, std::int64_t reads,
                std::int64_t ended_jobs) {
  SQLite::Database database(file.string(), SQLite::OPEN_READWRITE);
  database.exec("PRAGMA synchronous = OFF");
  const std::int64_t now = std::chrono::duration_cast<std::chrono::milliseconds>(
                               std::chrono::system_clock::now().time_since_epoch())
                               .count();
  constexpr std::int64_t year_ms = 365LL * 24 * 3600 * 1000;
  const auto text = [](std::int64_t number) { return std::to_string(number); };
  const std::string begin = text(now - year_ms);
  const auto numbers = [&](std::int64_t count) {
    return "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < " +
           text(count) + ") ";
  };
  SQLite::Transaction transaction(database);
  database.exec(numbers(reads) + "INSERT INTO reads (at, cart, point, step) SELECT " + begin +
                " + i * " + text(year_ms / reads) +
                ", 'cart-' || (i % 5 + 1), 'P0-' || (i % 60), i FROM n");
  const std::string each = text(year_ms / ended_jobs);
  database.exec(
      numbers(ended_jobs) +
      "INSERT INTO jobs (id, from_station, to_station, state, priority, note, key, cart, created, "
      "changed, loaded_at, ended_at, reason, via, stops_done) SELECT i, '" +
      plant.works.station(0, 0) + "', '" + plant.works.station(0, 1) +
      "', 'delivered', 5, '', 'shelf-' || i, 'cart-' || (i % 5 + 1), " + begin + " + i * " + each +
      " - 300000, " + begin + " + i * " + each + ", " + begin + " + i * " + each + " - 90000, " +
      begin + " + i * " + each + ", '', '', 2 FROM n");
  for (const auto& [state, before] : {std::pair{"queued", "300000"},
                                      {"assigned", "200000"},
                                      {"loaded", "90000"},
                                      {"delivered", "0"}}) {
    database.exec("INSERT INTO job_events (at, job, state, cart, reason) SELECT changed - " +
                  std::string(before) + ", id, '" + state + "', cart, '' FROM jobs");
  }
  database.exec("UPDATE service SET latest = " + text(now) + ", last_job = " + text(ended_jobs));
  transaction.commit();
  database.exec("PRAGMA wal_checkpoint(TRUNCATE)");
}

void start(bool smoke) {
  const std::int64_t reads = smoke ? 50'000 : 5'000'000;
  const std::int64_t ended_jobs = smoke ? 2'000 : 192'000;
  const Plant plant;
  const auto fleet = bench_fleet(5);
  const WorkFolder folder;
  double empty_s = 0;
  {
    Served first(folder.path(), plant.works.floor(), fleet);
    empty_s = first.start_s();
    first.stop();
  }
  const auto file = folder.path() / "data/tagline.db";
  write_year(file, plant, reads, ended_jobs);
  std::printf("\nStart with %lld reads and %lld ended jobs, %.0f MB\n",
              static_cast<long long>(reads), static_cast<long long>(ended_jobs),
              static_cast<double>(std::filesystem::file_size(file)) / 1e6);
  Times times;
  double rss = 0;
  for (int round = 0; round < (smoke ? 1 : 5); ++round) {
    Served served(folder.path(), plant.works.floor(), fleet);
    times.add(std::chrono::duration_cast<Steady::duration>(
        std::chrono::duration<double>(served.start_s())));
    rss = served.rss_mib();
    served.stop();
  }
  std::printf(
      "  %zu starts until /api/health answers: %.2f to %.2f s (limit 3); on an empty "
      "database %.2f s; %.0f MiB; load average %.1f\n",
      times.count(), times.quantile(0) / 1e3, times.quantile(1) / 1e3, empty_s, rss,
      load_average());
  print_verdict("start with a year's journal", times.quantile(1) < 3000, smoke);
}

}  // namespace
}  // namespace tagline::bench

int main(int argc, char** argv) {
  using namespace tagline;
  if (argc > 2 && std::strcmp(argv[1], "serve") == 0) return bench::run_service(argv[2]);
  const bench::Arguments arguments(argc, argv);
  try {
    if (arguments.wanted("jobs")) bench::jobs(arguments.smoke());
    if (arguments.wanted("start")) bench::start(arguments.smoke());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "store_bench: %s\n", error.what());
    return 1;
  }
  return 0;
}
