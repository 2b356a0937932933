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
#include "server/net/figure_source.hpp"
#include "server/net/fleet_office.hpp"
#include "server/net/floor_office.hpp"
#include "server/net/journal.hpp"
#include "server/net/network.hpp"
#include "server/net/past.hpp"
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
    /// What the figures are read from; nothing in tests that have no record.
    FigureSource* figures{};
    /// Null: the floor can't be changed over the network.
    FloorOffice* floor_office{nullptr};
    /// What has been, if that can be shown. Must outlive the service.
    Past* past{};
    /// Null: the fleet can't be changed over the network.
    FleetOffice* fleet_office{nullptr};
  };
  /// How it ended.
  enum class End {
    stopped,      // asked to
    begin_anew,   // with the floor or fleet file that has been put in place
    core_failed,  // an invariant was broken: a defect; the carts were told to stop
  };

  /// Throws std::runtime_error if the web folder can't be used.
  explicit Service(Setup setup);
  ~Service();
  Service(const Service&) = delete;
  Service& operator=(const Service&) = delete;

  /// From now on, before run() too, SIGINT and SIGTERM end it as stop() does. To be called before
  /// anybody is told that it is there.
  void end_on_signals();
  /// Serves on the calling thread until stop(); then finishes what was taken in, stores it, and
  /// closes every link with its reason.
  End run();
  /// Thread-safe.
  void stop();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tagline::net
