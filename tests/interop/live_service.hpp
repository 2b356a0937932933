// A whole live service in the test's own process, on a free loopback port, with the real core, the
// sample floor of the cart link and a journal in memory that can be made to fail.
#pragma once

#include <gtest/gtest.h>

#include <atomic>
#include <filesystem>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "server/app/inputs.hpp"
#include "server/net/http_client.hpp"
#include "server/net/service.hpp"
#include "tests/interop/raw_socket.hpp"

namespace tagline::test {

using nlohmann::json;

class MemoryJournal : public net::Journal {
 public:
  void write(Instant, std::span<const net::Batch> batches) override {
    if (failing) throw std::runtime_error("disk I/O error");
    const std::lock_guard lock(mutex_);
    for (const net::Batch& batch : batches)
      for (const control::Record& record : batch.records)
        if (const auto* job = std::get_if<control::JobRecord>(&record))
          jobs_[job->job.id] = job->job;
    for (const net::Batch& batch : batches)
      for (const access::Change& change : batch.access)
        if (const auto* entry = std::get_if<access::AuditEntry>(&change)) {
          audit_.insert(audit_.begin(), *entry);
          audit_.front().id = audit_.size();
        } else if (const auto* put = std::get_if<access::PutSeenAlarm>(&change)) {
          seen_alarms_.emplace(put->seen.cause, put->seen.who);
        } else if (const auto* drop = std::get_if<access::DropSeenAlarm>(&change)) {
          seen_alarms_.erase(drop->cause);
        }
  }
  std::vector<access::AuditEntry> audit(std::size_t limit,
                                        std::optional<std::uint64_t> before) override {
    const std::lock_guard lock(mutex_);
    std::vector<access::AuditEntry> found;
    for (const access::AuditEntry& entry : audit_)
      if (found.size() < limit && (!before || entry.id < *before)) found.push_back(entry);
    return found;
  }
  std::optional<control::Job> job(control::JobId id) override {
    const std::lock_guard lock(mutex_);
    const auto found = jobs_.find(id);
    return found == jobs_.end() ? std::nullopt : std::optional(found->second);
  }
  /// "CAUSE WHO"
  std::vector<std::string> seen_alarms() const {
    const std::lock_guard lock(mutex_);
    std::vector<std::string> found;
    for (const auto& [cause, who] : seen_alarms_) found.push_back(cause + " " + who);
    return found;
  }
  std::atomic<bool> failing{false};

 private:
  mutable std::mutex mutex_;
  std::map<std::string, std::string> seen_alarms_;  // who, by cause
  std::map<control::JobId, control::Job> jobs_;
  std::vector<access::AuditEntry> audit_;  // latest first
};

/// Everybody is let in, with every right: for tests that are about something else.
inline net::Entrance open_door() {
  net::Entrance entrance;
  entrance.open_door = access::Role::builder;
  return entrance;
}

/// A cart's plainest report.
inline std::string state_report(int seq) {
  return R"({"type":"state","seq":)" + std::to_string(seq) +
         R"(,"battery":87,"loaded":false,"moving":false})";
}

class LiveService {
 public:
  /// `latest` is the latest moment in the records, as if there were any: the clock begins there if
  /// the machine's is behind.
  explicit LiveService(net::NetLimits limits = {}, int pace = 1, Instant latest = Instant{},
                       net::Entrance entrance = open_door(), net::FloorOffice* office = nullptr,
                       net::FleetOffice* fleet_office = nullptr)
      : plant_(sample_plant()),
        clock_(latest, pace),
        core_(plant_->track, {"cart-1", "cart-2", "cart-3"}, control::Policy{}, control::Restored{},
              clock_.now()),
        network_(limits),
        port_(network_.listen("127.0.0.1", 0)),
        service_({network_,
                  plant_->track,
                  core_,
                  journal,
                  clock_,
                  {{"cart-1", access::sha256("sample-key-of-cart-1")},
                   {"cart-2", access::sha256("sample-key-of-cart-2")},
                   {"cart-3", access::sha256("sample-key-of-cart-3")}},
                  "/nonexistent/web",
                  {},
                  "test",
                  std::move(entrance),
                  [this](Instant now, const control::Event& event) {
                    if (core_broken) throw std::logic_error("I1: two carts hold P3");
                    return core_.handle(now, event);
                  },
                  nullptr,
                  office,
                  nullptr,
                  fleet_office}),
        thread_([this] { end_ = service_.run(); }) {}
  ~LiveService() { stop(); }
  LiveService(const LiveService&) = delete;
  LiveService& operator=(const LiveService&) = delete;

  net::Service::End stop() {
    if (thread_.joinable()) service_.stop();
    return wait();
  }
  /// Until it has ended by itself.
  net::Service::End wait() {
    if (thread_.joinable()) thread_.join();
    return end_;
  }
  [[nodiscard]] std::uint16_t port() const { return port_; }

  net::ClientResponse ask(const std::string& method, const std::string& target,
                          const std::string& body = {},
                          std::vector<std::pair<std::string, std::string>> headers = {}) const {
    return net::ask_http("127.0.0.1", port_, {method, target, std::move(headers), body});
  }
  [[nodiscard]] json get(const std::string& target) const {
    return json::parse(ask("GET", target).body);
  }

  /// True once the thing at `target` has that value for `key`; what a cart's link does reaches the
  /// board by way of the core.
  [[nodiscard]] bool shows_soon(const std::string& target, const std::string& key,
                                const json& value) const {
    for (int k = 0; k < 200; ++k) {
      if (get(target).at(key) == value) return true;
      std::this_thread::sleep_for(Millis(20));
    }
    return false;
  }

  [[nodiscard]] RawWebSocket cart_link() const { return {port_, "/cart", "tagline.cart.1"}; }
  [[nodiscard]] static std::string hello(int cart, const std::string& boot = "k7") {
    const std::string number = std::to_string(cart);
    return R"({"type":"hello","cart":"cart-)" + number + R"(","key":"sample-key-of-cart-)" +
           number + R"(","boot":")" + boot +
           R"(","last_tag":"","step":0,"until":0,"loaded":false,"battery":87,"stopped":false})";
  }

  MemoryJournal journal;
  std::atomic<bool> core_broken{false};

  /// With room for three loads at DRY.
  static std::unique_ptr<const app::Plant> sample_plant() {
    const auto sample = app::load_plant(std::filesystem::path(TAGLINE_SOURCE_DIR) /
                                        "protocol/samples/small.floor.json");
    floor::Floor floor = sample->floor;
    floor.stations.at(floor.find_station("DRY").value().value).capacity = 3;
    floor.zones.push_back({"HALL", "Casting hall", {floor.find_segment("S9").value()}});
    return std::make_unique<const app::Plant>(std::move(floor));
  }

 private:
  std::unique_ptr<const app::Plant> plant_;
  net::ServiceClock clock_;
  control::Core core_;
  net::Network network_;
  std::uint16_t port_;
  net::Service service_;
  net::Service::End end_{};
  std::thread thread_;
};

/// The next message of that type, others skipped; null if the link ends first.
inline json next_of_type(RawWebSocket& link, const std::string& type, Millis time = Millis(8'000)) {
  while (const auto text = link.next_text(time)) {
    json message = json::parse(*text);
    if (message.at("type") == type) return message;
  }
  return nullptr;
}

}  // namespace tagline::test
