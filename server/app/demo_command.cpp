// The demo: two children and the people's part.
#include "server/app/demo_command.hpp"

#include <unistd.h>

#include <cmath>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <random>

#include "server/app/bad_input.hpp"
#include "server/app/child_process.hpp"
#include "server/app/floor_changes.hpp"
#include "server/app/inputs.hpp"
#include "server/net/http_client.hpp"

namespace tagline::app {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;
using Steady = std::chrono::steady_clock;
namespace fs = std::filesystem;

/// Where the floor names no demand: any pair of stations, this often in all, per hour.
constexpr double usual_jobs_per_hour = 12;
/// No more jobs are asked for while so many wait.
constexpr std::size_t most_queued = 8;
constexpr auto start_patience = 60s;
constexpr auto restart_patience = 15s;

/// SIGINT or SIGTERM came: not an error, just the end.
struct AskedToEnd {};
/// A child ended by itself.
struct ChildEnded {
  int code;
};

/// A folder for the demo's data; removed at the end if it was made here.
class DataFolder {
 public:
  explicit DataFolder(const fs::path& given) : path_(given) {
    if (!given.empty()) return;
    std::string name = (fs::temp_directory_path() / "tagline-demo-XXXXXX").string();
    if (!mkdtemp(name.data())) throw BadInput("can't make a folder in " + name + "; give --data");
    path_ = name;
    own_ = true;
  }
  ~DataFolder() {
    std::error_code ignored;
    if (own_) fs::remove_all(path_, ignored);
  }
  DataFolder(const DataFolder&) = delete;
  DataFolder& operator=(const DataFolder&) = delete;
  [[nodiscard]] const fs::path& path() const { return path_; }
  [[nodiscard]] bool own() const { return own_; }

 private:
  fs::path path_;
  bool own_{false};
};

/// A floor that is published in the demo, or a cart added, must not change the shipped files.
fs::path own_copy(const DataFolder& data, const std::string& name) {
  const fs::path copy = data.path() / name;
  std::error_code error;
  fs::create_directories(data.path(), error);
  if (!error && !fs::exists(copy)) fs::copy_file(shipped_file(name), copy, error);
  if (error)
    throw BadInput("can't copy the demo's files to " + copy.string() + ": " + error.message());
  return copy;
}

/// One stream of jobs between two stations.
struct Flow {
  std::string from, to;
  double per_hour{};
};

std::vector<Flow> flows_of(const floor::Floor& floor, std::optional<double> wanted) {
  std::vector<Flow> flows;
  for (const floor::Demand& demand : floor.demand)
    flows.push_back({floor[demand.from].id, floor[demand.to].id, demand.per_hour});
  if (flows.empty())
    for (const floor::Station& from : floor.stations)
      for (const floor::Station& to : floor.stations)
        if (from.id != to.id) flows.push_back({from.id, to.id, 1});
  double total = 0;
  for (const Flow& flow : flows) total += flow.per_hour;
  const double goal = wanted ? *wanted : floor.demand.empty() ? usual_jobs_per_hour : total;
  for (Flow& flow : flows) flow.per_hour *= total > 0 ? goal / total : 0;
  return flows;
}

class Demo {
 public:
  explicit Demo(const DemoOptions& options)
      : options_(options),
        data_(options.data),
        floor_file_(options.floor.empty() ? own_copy(data_, "demo.floor.json") : options.floor),
        fleet_file_(options.fleet.empty() ? own_copy(data_, "demo.fleet.json") : options.fleet),
        plant_(load_plant(floor_file_)),
        fleet_(load_fleet_or_refuse(fleet_file_, plant_->floor)),
        chance_(options.seed) {
    if (options.carts) {
      if (static_cast<std::size_t>(*options.carts) > fleet_.size())
        throw BadInput("--carts " + std::to_string(*options.carts) + ": " + fleet_file_.string() +
                       " has only " + std::to_string(fleet_.size()));
      fleet_.resize(static_cast<std::size_t>(*options.carts));
    }
    for (const FleetCart& cart : fleet_) homes_.push_back(home_pose(*plant_, cart, fleet_file_));
  }

  void run() {
    start_service();
    start_carts();
    for (std::size_t k = 0; k < fleet_.size(); ++k) set_down(fleet_[k], homes_[k]);
    std::cout << "Tagline demo: \"" << plant_->floor.name << "\" with " << fleet_.size()
              << " virtual carts at pace " << options_.pace << ".\n"
              << "The door is open: whoever is on this machine is let in as a builder.\n"
              << "It stood in for the person who sets each cart down at its home and says so.\n"
              << "Data: " << data_.path().string() << (data_.own() ? " (removed at the end)" : "")
              << "\nBoard: http://127.0.0.1:" << port_ << "/\nEnd it with Ctrl-C." << std::endl;
    for (;;) {
      if (options_.jobs)
        keep_jobs_coming();
      else
        while (!service_began_anew()) pause(1s);
      take_up_new_floor();
    }
  }

 private:
  void start_service() {
    const fs::path port_file = data_.path() / "demo.port";
    std::error_code ignored;
    fs::remove(port_file, ignored);
    std::vector<std::string> words{"serve",
                                   "--floor",
                                   floor_file_.string(),
                                   "--fleet",
                                   fleet_file_.string(),
                                   "--data",
                                   data_.path().string(),
                                   "--port",
                                   std::to_string(options_.port),
                                   "--pace",
                                   std::to_string(options_.pace),
                                   "--port-file",
                                   port_file.string(),
                                   "--open-door",
                                   "builder"};
    if (!options_.web.empty()) words.insert(words.end(), {"--web", options_.web.string()});
    service_.emplace(words);
    wait_until("the service to start", [&] {
      std::ifstream in(port_file);
      return static_cast<bool>(in >> port_);
    });
    fs::remove(port_file, ignored);
    wait_until("the service to answer", [&] { return ask("GET", "/api/health").status == 200; });
  }

  void start_carts() {
    if (fleet_.empty()) return;  // all were revoked, or have new keys
    std::vector<std::string> words{"cart",
                                   "--floor",
                                   floor_file_.string(),
                                   "--fleet",
                                   fleet_file_.string(),
                                   "--url",
                                   "ws://127.0.0.1:" + std::to_string(port_) + "/cart",
                                   "--pace",
                                   std::to_string(options_.pace),
                                   "--seed",
                                   std::to_string(options_.seed)};
    for (const FleetCart& cart : fleet_) words.insert(words.end(), {"--cart", cart.id});
    carts_.emplace(words);
    wait_until("the carts to connect", [&] {
      for (const FleetCart& cart : fleet_)
        if (!read_cart(cart.id).at("connected").get<bool>()) return false;
      return true;
    });
  }

  /// Whether it was started anew since this was asked last: somebody has published a floor, or
  /// changed the fleet.
  bool service_began_anew() {
    auto run = body_of(ask("GET", "/api/health")).at("run").get<std::string>();
    const std::string before = std::exchange(service_run_, std::move(run));
    return !before.empty() && before != service_run_;
  }

  /// Lays the new tape, and sets the carts down on it.
  void take_up_new_floor() {
    auto plant = load_plant(floor_file_);
    const bool lies_elsewhere = must_place_anew(plant_->floor, plant->floor);
    plant_ = std::move(plant);
    keep_those_still_there();
    if (!lies_elsewhere) return;
    homes_.clear();
    for (const FleetCart& cart : fleet_) homes_.push_back(home_pose(*plant_, cart, fleet_file_));
    carts_.reset();
    start_carts();
    // All are lifted off first: nothing is released while nobody knows where a cart is.
    for (const FleetCart& cart : fleet_) lift_off(cart);
    body_of(ask("POST", "/api/release"));
    for (std::size_t k = 0; k < fleet_.size(); ++k) set_down(fleet_[k], homes_[k]);
    std::cout << "A new floor was published: the carts were set down at their homes on it, and "
                 "released."
              << std::endl;
  }

  /// Virtual carts know the keys that they began with: one that was revoked, or given a new key,
  /// can't connect any more, and one that was added has nobody to play it here.
  void keep_those_still_there() {
    const Fleet now = load_fleet_or_refuse(fleet_file_, plant_->floor);
    Fleet kept;
    for (const FleetCart& cart : now) {
      const auto known = std::ranges::find(fleet_, cart.id, &FleetCart::id);
      if (known != fleet_.end() && known->digest == cart.digest && cart.home) kept.push_back(cart);
    }
    fleet_ = std::move(kept);
  }

  json read_cart(const std::string& id) { return body_of(ask("GET", "/api/carts/" + id)); }

  static json body_of(const net::ClientResponse& response) {
    if (response.status >= 300) throw std::runtime_error("the service says: " + response.body);
    return json::parse(response.body);
  }

  void lift_off(const FleetCart& cart) {
    if (read_cart(cart.id).at("mode") != "off_floor")
      body_of(ask("POST", "/api/carts/" + cart.id + "/remove"));
  }

  /// What the person does who sets a cart on the tape at its home.
  void set_down(const FleetCart& cart, PoseIx home) {
    const std::string at = "/api/carts/" + cart.id;
    lift_off(cart);
    const json place{{"point", *cart.home},
                     {"came_from", plant_->floor[plant_->ways.came_from(home)].id}};
    const json placed = body_of(ask("POST", at + "/place", place.dump()));
    if (placed.at("mode") == "needs_release") body_of(ask("POST", at + "/release"));
  }

  /// Jobs of each flow come at random moments at its mean rate (a Poisson stream), by the
  /// service's clock.
  void keep_jobs_coming() {
    const std::vector<Flow> flows = flows_of(plant_->floor, options_.jobs_per_hour);
    std::vector<Steady::time_point> next;
    next.reserve(flows.size());
    for (const Flow& flow : flows) next.push_back(after_gap(Steady::now(), flow));
    if (!flows.empty()) create_job(flows.front());  // so that the board is alive from the start
    while (!service_began_anew()) {
      const auto soonest = std::min_element(next.begin(), next.end());
      const auto now = Steady::now();
      if (soonest == next.end() || *soonest > now + 1s) {
        pause(1s);
      } else if (*soonest > now) {
        pause(std::chrono::duration_cast<std::chrono::milliseconds>(*soonest - now) + 1ms);
      } else {
        const Flow& flow = flows[static_cast<std::size_t>(soonest - next.begin())];
        const json queued = body_of(ask("GET", "/api/jobs?state=queued"));
        if (queued.at("jobs").size() < most_queued) create_job(flow);
        *soonest = after_gap(now, flow);
      }
    }
  }

  Steady::time_point after_gap(Steady::time_point from, const Flow& flow) {
    const double per_second = flow.per_hour / 3600 * options_.pace;
    if (per_second <= 0) return Steady::time_point::max();
    std::exponential_distribution<double> gap(per_second);
    return from + std::chrono::duration_cast<Steady::duration>(
                      std::chrono::duration<double>(std::min(gap(chance_), 1e6)));
  }

  void create_job(const Flow& flow) {
    body_of(ask("POST", "/api/jobs",
                json{{"from", flow.from}, {"to", flow.to}, {"note", "demo"}}.dump()));
  }

  net::ClientResponse ask(const std::string& method, const std::string& target,
                          const std::string& body = {}) {
    for (const auto deadline = Steady::now() + restart_patience;;) {
      try {
        const auto answer = net::ask_http("127.0.0.1", port_, {method, target, {}, body});
        if (answer.status != 503 || Steady::now() > deadline) return answer;
      } catch (const net::ClientError&) {
        if (Steady::now() > deadline) throw;
      }
      // It may be starting anew, on a floor that somebody has published. If a child has ended, or
      // the end is wanted, that is what matters.
      pause(200ms);
    }
  }

  /// Waits, unless there is a reason to end.
  void pause(std::chrono::milliseconds time) {
    if (HeldSignals::came_within(time)) throw AskedToEnd{};
    for (auto* child : {&service_, &carts_})
      if (*child)
        if (const auto code = (*child)->ended()) throw ChildEnded{*code};
  }

  template <class Condition>
  void wait_until(const std::string& what, const Condition& holds) {
    const auto deadline = Steady::now() + start_patience;
    while (!holds()) {
      if (Steady::now() > deadline) throw std::runtime_error("waited in vain for " + what);
      pause(50ms);
    }
  }

  const DemoOptions& options_;
  DataFolder data_;
  fs::path floor_file_, fleet_file_;
  std::unique_ptr<const Plant> plant_;
  Fleet fleet_;
  std::vector<PoseIx> homes_;
  std::mt19937_64 chance_;
  std::string service_run_;  // "" before it was asked first
  std::uint16_t port_{0};
  // The carts end first: destroyed in reverse order.
  std::optional<ChildProcess> service_, carts_;
};

}  // namespace

int demo(const DemoOptions& options) {
  const HeldSignals held;
  Demo demo(options);
  try {
    demo.run();
  } catch (const AskedToEnd&) {
    return 0;
  } catch (const ChildEnded& child) {
    std::cerr << "tagline: a part of the demo ended by itself (exit code " << child.code
              << "); its last lines say why\n";
    return child.code == 2 ? 2 : 1;
  }
  return 0;
}

}  // namespace tagline::app
