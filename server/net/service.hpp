// The live service: the core's engine, the carts' desk, the interface and the live updates, wired
// to one network. What the command `serve` runs, and what the tests run in their own process.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/net/cart_desk.hpp"
#include "server/net/clock.hpp"
#include "server/net/door.hpp"
#include "server/net/journal.hpp"
#include "server/net/network.hpp"
#include "server/net/registry.hpp"

namespace tagline::net {

class Service {
 public:
  struct Setup {
    /// Already listening. It, and the other references, must outlive the service.
    Network& network;
    const floor::Track& track;
    control::Core& core;
    Journal& journal;
    const ServiceClock& clock;
    std::vector<KnownCart> fleet;  // in CartIx order
    std::filesystem::path web;
    HostNames host_names;
    std::string version;
    Entrance entrance;
    /// The core's handle() unless a test puts something between.
    std::function<control::Outcome(Instant, const control::Event&)> decide{};
  };
  /// How it ended.
  enum class End {
    stopped,      // asked to
    core_failed,  // an invariant was broken: a defect; the carts were told to stop
  };

  /// Throws std::runtime_error if the web folder can't be used.
  explicit Service(Setup setup);
  ~Service();
  Service(const Service&) = delete;
  Service& operator=(const Service&) = delete;

  /// Serves on the calling thread until stop() or, if `until_signal`, SIGINT or SIGTERM; then
  /// finishes what was taken in, stores it, and closes every link with its reason.
  End run(bool until_signal);
  /// Thread-safe.
  void stop();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tagline::net
