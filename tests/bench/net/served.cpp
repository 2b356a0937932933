// Starting the service, and reading what Linux says about it (proc(5)).
#include "tests/bench/net/served.hpp"

#include <sched.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include <atomic>
#include <fstream>
#include <mutex>
#include <sstream>
#include <stdexcept>
#include <thread>

#include "server/app/serve_command.hpp"
#include "server/floor/file.hpp"
#include "server/net/http_client.hpp"

namespace tagline::bench {
namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

constexpr auto longest_start = 300s;

void write(const fs::path& file, const std::string& text) {
  std::ofstream out(file);
  out << text;
  if (!out.flush()) throw std::runtime_error("can't write " + file.string());
}

std::string fleet_text(const std::vector<BenchCart>& fleet) {
  std::string carts;
  for (const BenchCart& cart : fleet) {
    if (!carts.empty()) carts += ",\n";
    carts += R"({"id":")" + cart.id + R"(","key":")" + cart.key + "\"}";
  }
  return R"({"format":"tagline-fleet/1","carts":[)" + carts + "]}";
}

std::uint16_t read_number(const fs::path& file) {
  std::ifstream in(file);
  std::uint16_t number = 0;
  in >> number;
  return number;
}

bool healthy(std::uint16_t port) {
  try {
    return net::ask_http("127.0.0.1", port, {"GET", "/api/health", {}, {}}).status == 200;
  } catch (const net::ClientError&) {
    return false;
  }
}

}  // namespace

WorkFolder::WorkFolder() {
  std::string name = (fs::temp_directory_path() / "tagline-bench-XXXXXX").string();
  if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("can't make " + name);
  path_ = name;
}

WorkFolder::~WorkFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

std::vector<BenchCart> bench_fleet(std::size_t carts) {
  std::vector<BenchCart> fleet;
  for (std::size_t k = 1; k <= carts; ++k)
    fleet.push_back({"cart-" + std::to_string(k), "bench-key-of-cart-" + std::to_string(k)});
  return fleet;
}

Pinned::Pinned(int core) {
  cpu_set_t one;
  CPU_ZERO(&one);
  CPU_SET(core, &one);
  if (sched_setaffinity(0, sizeof one, &one) != 0)
    throw std::runtime_error("can't keep to core " + std::to_string(core));
}

Pinned::~Pinned() {
  cpu_set_t all;
  CPU_ZERO(&all);
  for (int core = 0; core < CPU_SETSIZE; ++core) CPU_SET(core, &all);
  sched_setaffinity(0, sizeof all, &all);
}

Served::Served(const fs::path& folder, const floor::Floor& floor,
               const std::vector<BenchCart>& fleet, std::optional<int> core)
    : folder_(folder) {
  const fs::path port_file = folder / "port";
  fs::remove(port_file);
  write(folder / "floor.json", floor::format_floor(floor));
  write(folder / "fleet.json", fleet_text(fleet));
  const auto begin = Steady::now();
  {
    std::optional<Pinned> pinned;
    if (core) pinned.emplace(*core);
    child_.emplace(std::vector<std::string>{"serve", folder.string()});
  }
  for (;;) {
    if (const auto code = child_->ended())
      throw std::runtime_error("the service ended with exit code " + std::to_string(*code));
    if (Steady::now() - begin > longest_start)
      throw std::runtime_error("the service did not start");
    if (fs::exists(port_file)) {
      port_ = read_number(port_file);
      if (healthy(port_)) break;
    }
    std::this_thread::sleep_for(1ms);
  }
  start_s_ = seconds_since(begin);
  std::ifstream(folder / "data" / "tagline.lock") >> pid_;  // the owner's process id
}

int run_service(const fs::path& folder) {
  spdlog::set_level(spdlog::level::warn);
  return app::serve({.floor = folder / "floor.json",
                     .fleet = folder / "fleet.json",
                     .data = folder / "data",
                     .listen = "127.0.0.1",
                     .port = 0,
                     .pace = 1,
                     .web = folder / "web",  // there is none: no page is asked for
                     .open_door = "builder",
                     .proxies = {},
                     .hosts = {},
                     .port_file = folder / "port"});
}

double Served::cpu_s() const {
  std::ifstream in("/proc/" + std::to_string(pid_) + "/stat");
  std::string line;
  std::getline(in, line);
  // Fields 14 and 15; the second one is the name in brackets, which may have blanks in it.
  std::istringstream rest(line.substr(line.rfind(')') + 1));
  std::string skipped;
  for (int field = 3; field < 14; ++field) rest >> skipped;
  double user = 0, system = 0;
  rest >> user >> system;
  return (user + system) / static_cast<double>(sysconf(_SC_CLK_TCK));
}

double Served::status_mib(const std::string& key) const {
  std::ifstream in("/proc/" + std::to_string(pid_) + "/status");
  for (std::string word; in >> word;) {
    double kib = 0;
    if (word == key && in >> kib) return kib / 1024;
  }
  return -1;
}

void post_all(std::uint16_t port, const std::vector<Post>& posts, std::size_t threads) {
  std::atomic<std::size_t> next{0};
  std::mutex mutex;
  std::string wrong;
  std::vector<std::thread> workers;
  for (std::size_t t = 0; t < threads; ++t) {
    workers.emplace_back([&] {
      for (std::size_t k = next++; k < posts.size(); k = next++) {
        try {
          const auto answer =
              net::ask_http("127.0.0.1", port, {"POST", posts[k].target, {}, posts[k].body}, 120s);
          if (answer.status / 100 == 2) continue;
          const std::lock_guard lock(mutex);
          wrong = posts[k].target + ": " + std::to_string(answer.status) + " " + answer.body;
        } catch (const std::exception& error) {
          const std::lock_guard lock(mutex);
          wrong = posts[k].target + ": " + error.what();
        }
        next = posts.size();
      }
    });
  }
  for (std::thread& worker : workers) worker.join();
  if (!wrong.empty()) throw std::runtime_error(wrong);
}

}  // namespace tagline::bench
