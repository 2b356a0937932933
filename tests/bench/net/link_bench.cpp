// The cart link measured against its limits, as ratios in one run (issue 4):
//   authority  tag report to authority with 100 carts against the round trip of a bare echo server
//              with frames of the same size, the same number of clients and the same rate
//   thousand   1,000 carts at 5 reads a second, the service held on one core
//   viewers    read to acknowledgement with 200 boards open, against the same without them
// Names of parts may be given as arguments; all run otherwise. --smoke makes it a few seconds long
// and judges nothing. Build it as Release. The service and the echo server are processes of their
// own; all clients are one thread of this one.
#include <array>
#include <atomic>
#include <boost/asio/io_context.hpp>
#include <cstring>
#include <memory>
#include <stdexcept>
#include <thread>

#include "server/net/low_priority.hpp"
#include "tests/bench/net/arguments.hpp"
#include "tests/bench/net/bench_cart.hpp"
#include "tests/bench/net/ring_works.hpp"

namespace tagline::bench {
namespace {

using namespace std::chrono_literals;
constexpr auto turn_every = 200ms;  // 5 reads a second

/// Sends a text of a read's size at each turn and times its return.
class EchoLine : public Line {
 public:
  EchoLine(boost::asio::io_context& io, std::uint16_t port, Times& times)
      : Line(io, port, "/", ""), times_(times) {}

 private:
  void turn() override {
    sent_ = Steady::now();
    send(text_);
  }
  void on_text(std::string_view) override { times_.add(Steady::now() - sent_); }

  Times& times_;
  std::string text_{protocol::encode(protocol::CartMessage{protocol::Read{500, "04000ABC", 500}})};
  Steady::time_point sent_;
};

template <class Lines>
void run_turns(boost::asio::io_context& io, Lines& lines, Steady::duration time) {
  const auto now = Steady::now() + 5ms;
  for (std::size_t k = 0; k < lines.size(); ++k)
    lines[k]->start_turns(now + turn_every * static_cast<int>(k) / static_cast<int>(lines.size()),
                          turn_every);
  io.run_for(time);
  for (auto& line : lines) line->stop_turns();
  io.run_for(turn_every + 100ms);  // the last answers
}

std::uint16_t port_of(const std::filesystem::path& file) {
  const auto begin = Steady::now();
  while (!std::filesystem::exists(file)) {
    if (seconds_since(begin) > 10) throw std::runtime_error("the echo server does not start");
    std::this_thread::sleep_for(5ms);
  }
  std::FILE* in = std::fopen(file.c_str(), "r");
  unsigned port = 0;
  if (in == nullptr || std::fscanf(in, "%u", &port) != 1) throw std::runtime_error("no port");
  std::fclose(in);
  return static_cast<std::uint16_t>(port);
}

std::string job_text(const RingWorks& works, std::size_t ring, std::size_t from) {
  // All the way round to the station before.
  return R"({"from":")" + works.station(ring, from) + R"(","to":")" +
         works.station(ring, from + works.stations_per_ring() - 1) + "\"}";
}

/// Carts of one ring stand evenly on its bays.
std::vector<Post> placings(const RingWorks& works, RingSize size,
                           const std::vector<BenchCart>& fleet) {
  std::vector<Post> posts;
  const std::size_t each = fleet.size() / size.rings;
  for (std::size_t k = 0; k < fleet.size(); ++k)
    posts.push_back({"/api/carts/" + fleet[k].id + "/place",
                     R"({"point":")" + works.bay(k / each, k % each * (size.bays / each)) + "\"}"});
  return posts;
}

/// As many jobs as carts, shared out over the stations.
std::vector<Post> first_jobs(const RingWorks& works, RingSize size, std::size_t carts) {
  std::vector<Post> posts;
  for (std::size_t k = 0; k < carts; ++k)
    posts.push_back({"/api/jobs", job_text(works, k % size.rings, k / size.rings)});
  return posts;
}

using Carts = std::vector<std::unique_ptr<BenchCartLine>>;

Carts connect(boost::asio::io_context& io, const Served& served,
              const std::vector<BenchCart>& fleet, BenchCartLine::Ways ways, Counted& counted) {
  Carts carts;
  for (const BenchCart& cart : fleet) {
    carts.push_back(std::make_unique<BenchCartLine>(io, served.port(), cart, ways));
    carts.back()->count_in(counted);
    io.poll();
  }
  const auto begin = Steady::now();
  while (!std::ranges::all_of(carts, [](const auto& cart) { return cart->welcomed(); })) {
    if (seconds_since(begin) > 30) throw std::runtime_error("not every cart was welcomed");
    io.run_for(10ms);
  }
  return carts;
}

/// Places the carts and posts the jobs while the links are kept alive.
void set_up(boost::asio::io_context& io, const Served& served, const std::vector<Post>& places,
            const std::vector<Post>& jobs) {
  std::exception_ptr failed;
  std::atomic<bool> done{false};
  std::thread thread([&] {
    try {
      post_all(served.port(), places);
      post_all(served.port(), jobs);
    } catch (...) {
      failed = std::current_exception();
    }
    done = true;
  });
  while (!done) io.run_for(20ms);
  thread.join();
  if (failed) std::rethrow_exception(failed);
}

void authority(bool smoke) {
  const RingSize size = smoke ? RingSize{2, 20} : RingSize{10, 100};
  const std::size_t cart_count = smoke ? 4 : 100;
  const int rounds = smoke ? 1 : 8;
  const auto slice = smoke ? 1s : 4s;
  const RingWorks works(size);
  const auto fleet = bench_fleet(cart_count);
  const WorkFolder folder;
  const app::ChildProcess echo({"echo", (folder.path() / "echo.port").string()});
  Served served(folder.path(), works.floor(), fleet);
  std::printf("\nTag report to authority, %zu carts at 5 reads a second on %zu points\n",
              cart_count, works.floor().points.size());

  boost::asio::io_context io{1};
  Times echoed;
  std::vector<std::unique_ptr<EchoLine>> echoes;
  const std::uint16_t echo_port = port_of(folder.path() / "echo.port");
  for (std::size_t k = 0; k < cart_count; ++k)
    echoes.push_back(std::make_unique<EchoLine>(io, echo_port, echoed));
  Counted warm_up;
  Carts carts = connect(io, served, fleet, {}, warm_up);
  set_up(io, served, placings(works, size, fleet), first_jobs(works, size, cart_count));
  run_turns(io, carts, smoke ? 1s : 12s);  // to the first station and on
  echoed = {};
  Counted counted;
  for (auto& cart : carts) cart->count_in(counted);
  for (int round = 0; round < rounds; ++round) {
    run_turns(io, echoes, slice);
    run_turns(io, carts, slice);
  }
  print_times("echo, round trip", echoed);
  print_times("read to authority", counted.authority);
  print_times("read to acknowledgement", counted.ack);
  const double ratio = counted.authority.quantile(0.99) / echoed.quantile(0.99);
  std::printf(
      "  p99 ratio %.2f (limit 2), p50 ratio %.2f; %zu reads, %zu loadings, %zu reads that should "
      "have brought authority and did not; load average %.1f\n",
      ratio, counted.authority.quantile(0.5) / echoed.quantile(0.5), counted.reads, counted.handled,
      counted.no_authority, load_average());
  print_verdict("tag report to authority", ratio <= 2, smoke);
  if (counted.authority.count() == 0) throw std::runtime_error("no authority came at all");

  // The same while jobs are taken, each of which must be on disk before anything after it goes out.
  Counted busy;
  for (auto& cart : carts) cart->count_in(busy);
  const auto jobs = static_cast<std::size_t>(smoke ? 2 : 16);
  std::thread poster([&] {
    for (std::size_t k = 0; k < jobs; ++k) {
      post_all(served.port(), {{"/api/jobs", job_text(works, k % size.rings, k)}}, 1);
      std::this_thread::sleep_for(500ms);
    }
  });
  run_turns(io, carts, 500ms * static_cast<int>(jobs));
  poster.join();
  print_times("read to authority, 2 jobs a second posted", busy.authority);
  served.stop();
}

/// A board that only looks.
class ViewerLine : public Line {
 public:
  ViewerLine(boost::asio::io_context& io, std::uint16_t port)
      : Line(io, port, "/live", "tagline.live.1") {}

 private:
  void on_text(std::string_view) override {}
  void turn() override {}
};

/// A process of its own: so many boards until it is ended. It gives way to everybody: two hundred
/// browsers would be on other machines.
int run_viewers(std::uint16_t port, std::size_t count, const std::filesystem::path& all_open) {
  net::give_way_to_others();
  boost::asio::io_context io{1};
  std::vector<std::unique_ptr<ViewerLine>> boards;
  for (std::size_t k = 0; k < count; ++k) {
    boards.push_back(std::make_unique<ViewerLine>(io, port));
    io.poll();
  }
  std::fclose(std::fopen(all_open.c_str(), "w"));
  io.run();
  return 0;
}

void viewers(bool smoke) {
  const RingSize size = smoke ? RingSize{2, 20} : RingSize{10, 100};
  const std::size_t cart_count = smoke ? 4 : 100;
  const std::size_t boards = smoke ? 3 : 200;
  const RingWorks works(size);
  const auto fleet = bench_fleet(cart_count);
  const WorkFolder folder;
  Served served(folder.path(), works.floor(), fleet);
  std::printf("\nRead to acknowledgement with %zu boards, %zu carts at 5 reads a second\n", boards,
              cart_count);
  boost::asio::io_context io{1};
  Counted warm_up, alone, watched;
  Carts carts = connect(io, served, fleet, {}, warm_up);
  set_up(io, served, placings(works, size, fleet), first_jobs(works, size, cart_count));
  run_turns(io, carts, smoke ? 1s : 10s);
  for (int round = 0; round < (smoke ? 1 : 4); ++round) {
    for (auto& cart : carts) cart->count_in(alone);
    run_turns(io, carts, smoke ? 1s : 6s);
    for (auto& cart : carts) cart->count_in(warm_up);
    const auto all_open = folder.path() / ("open" + std::to_string(round));
    const app::ChildProcess child(
        {"view", std::to_string(served.port()), std::to_string(boards), all_open.string()});
    while (!std::filesystem::exists(all_open)) io.run_for(20ms);
    for (auto& cart : carts) cart->count_in(watched);
    const double cpu = served.cpu_s();
    const auto begin = Steady::now();
    run_turns(io, carts, smoke ? 1s : 6s);
    std::printf("  with boards the service takes %.0f %% of a core\n",
                100 * (served.cpu_s() - cpu) / seconds_since(begin));
    for (auto& cart : carts) cart->count_in(warm_up);
  }
  print_times("read to acknowledgement, nobody looks", alone.ack);
  print_times("read to acknowledgement, boards open", watched.ack);
  std::printf("  p99 ratio %.2f, p50 ratio %.2f; load average %.1f\n",
              watched.ack.quantile(0.99) / alone.ack.quantile(0.99),
              watched.ack.quantile(0.5) / alone.ack.quantile(0.5), load_average());
  if (watched.ack.count() == 0) throw std::runtime_error("no read was acknowledged");
  served.stop();
}

void thousand(bool smoke) {
  const RingSize size = smoke ? RingSize{2, 20} : RingSize{10, 100};
  const std::size_t cart_count = size.rings * size.bays;
  const auto third = smoke ? 1s : 10s;
  const RingWorks works(size);
  const auto fleet = bench_fleet(cart_count);
  const WorkFolder folder;
  Served served(folder.path(), works.floor(), fleet, 0);
  const Pinned clients(1);
  std::printf(
      "\n%zu carts at 5 reads a second, the service on one core: started in %.1f s, %.0f "
      "MiB\n",
      cart_count, served.start_s(), served.rss_mib());
  boost::asio::io_context io{1};
  Counted warm_up;
  Carts carts = connect(io, served, fleet, {.reads_again = true}, warm_up);
  const auto set_up_begin = Steady::now();
  const double cpu_before = served.cpu_s();
  // A tenth of the carts under way: with every cart busy, deciding who does what takes the core
  // (DEVELOPERS.md, cost per event), and this is about the links. The others read where they stand.
  const std::size_t job_count = cart_count / 10;
  set_up(io, served, placings(works, size, fleet), first_jobs(works, size, job_count));
  std::printf("  %zu carts placed and %zu jobs given in %.1f s (%.1f s of the core)\n", cart_count,
              job_count, seconds_since(set_up_begin), served.cpu_s() - cpu_before);
  run_turns(io, carts, third);
  std::array<Counted, 3> thirds;
  for (Counted& counted : thirds) {
    for (auto& cart : carts) cart->count_in(counted);
    const double cpu = served.cpu_s();
    const auto begin = Steady::now();
    run_turns(io, carts, third);
    const double share = (served.cpu_s() - cpu) / seconds_since(begin);
    for (const auto& cart : carts) counted.unanswered += cart->unanswered();
    std::printf(
        "  %zu reads, %zu passed a point, %zu read again, %zu loadings, %zu unanswered; "
        "%.0f %% of the core; %.0f MiB\n",
        counted.reads, counted.passed, counted.read_again, counted.handled, counted.unanswered,
        100 * share, served.rss_mib());
    print_times("read to acknowledgement", counted.ack);
    print_times("read to authority", counted.authority);
  }
  served.stop();
}

}  // namespace
}  // namespace tagline::bench

int main(int argc, char** argv) {
  using namespace tagline;
  // Its own child processes; see served.hpp.
  if (argc > 2 && std::strcmp(argv[1], "serve") == 0) return bench::run_service(argv[2]);
  if (argc > 2 && std::strcmp(argv[1], "echo") == 0) return bench::run_echo_server(argv[2]);
  if (argc > 4 && std::strcmp(argv[1], "view") == 0)
    return bench::run_viewers(static_cast<std::uint16_t>(std::stoul(argv[2])), std::stoul(argv[3]),
                              argv[4]);
  const bench::Arguments arguments(argc, argv);
  try {
    if (arguments.wanted("authority")) bench::authority(arguments.smoke());
    if (arguments.wanted("viewers")) bench::viewers(arguments.smoke());
    if (arguments.wanted("thousand")) bench::thousand(arguments.smoke());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "link_bench: %s\n", error.what());
    return 1;
  }
  return 0;
}
