// The deterministic core: event + now -> Outcome. It owns the state of carts and jobs. No socket,
// clock, file, thread or random source inside: the live service, the tests and the simulator run
// this same code, and equal events give equal outcomes, byte for byte.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/control/events.hpp"
#include "server/control/outcome.hpp"
#include "server/control/view.hpp"
#include "server/floor/track.hpp"
#include "server/traffic/capacity.hpp"

namespace tagline::control {

using LiveLimit = traffic::LiveLimit;

/// Tunables, each with the value the service uses.
struct Policy {
  /// Authority reaches at least stopping distance + speed x this ahead of the cart.
  Duration link_latency{1'500};
  /// A cart below this takes no new job and goes to charge (common practice, no source: 20-30 %).
  int battery_low{25};
  /// A charging cart takes jobs again from here.
  int battery_ready{60};
  /// An idle cart below this goes to a free charger while no job waits.
  int battery_idle{80};
  /// Loading or unloading that takes this much longer than the floor file expects of the station is
  /// an alarm: other carts may wait behind it (common practice, no source).
  Duration handling_overdue{std::chrono::minutes{10}};
};

/// What the store kept, to start from.
struct Restored {
  std::vector<Job> jobs;  // open ones, and ended ones still of interest
  std::uint64_t last_job{};
  std::vector<PathRecord> paths;
  std::vector<CartRecord> carts;
  FleetRecord fleet;
  std::vector<StationRecord> stations;
  std::vector<Downtime> downtimes;
  std::vector<ZoneIx> stopped_zones;
};

class Core {
 public:
  /// `cart_names` is the fleet, in CartIx order. `track` must outlive the core. Carts with a
  /// restored path start in doubt and hold their whole path until they greet (I8).
  Core(const floor::Track& track, std::vector<std::string> cart_names, Policy policy,
       const Restored& restored, Instant now);
  ~Core();
  Core(const Core&) = delete;
  Core& operator=(const Core&) = delete;

  /// `now` never goes back. Throws std::logic_error only if an invariant (design: I1 to I5) is
  /// broken, which is a defect; the caller must then stop.
  Outcome handle(Instant now, const Event& event);

  [[nodiscard]] std::size_t cart_count() const;
  [[nodiscard]] const std::string& cart_name(CartIx cart) const;
  [[nodiscard]] std::optional<CartIx> find_cart(std::string_view name) const;
  [[nodiscard]] CartView cart(CartIx cart) const;
  /// Null if the core doesn't know it (never made, or ended long ago: ask the store).
  [[nodiscard]] const Job* job(JobId id) const;
  /// Open jobs first by age, then ended ones, latest first. Ended jobs are kept for a while.
  [[nodiscard]] std::vector<const Job*> jobs() const;
  /// Why a cart stands, or a job has not been started: from the thing itself to the root, a link at
  /// a time (design.md 7). Empty for a cart that drives, and for a job that a cart has taken up.
  [[nodiscard]] std::vector<Reason> why(CartIx cart) const;
  [[nodiscard]] std::vector<Reason> why(JobId job) const;
  /// For every job a cart has: when it will come about. No entry while nobody can tell: the cart
  /// stands by a fault or by a person's will, its link is lost, or its way is closed.
  [[nodiscard]] std::map<JobId, Expected> expected() const;
  /// The same for one job; costs less than all, by far where others don't come before it.
  [[nodiscard]] std::optional<Expected> expected(JobId job) const;
  /// Loads that stand at a station with a capacity; nothing for one without.
  [[nodiscard]] std::optional<int> loads_at(StationIx station) const;
  /// The most carts that this floor stays live with, and why not more. More are not placed.
  [[nodiscard]] const LiveLimit& live_limit() const;
  [[nodiscard]] std::vector<Alarm> alarms() const;
  [[nodiscard]] bool all_stopped() const;
  [[nodiscard]] std::vector<DowntimeView> downtimes() const;
  [[nodiscard]] std::vector<ZoneIx> stopped_zones() const;

  /// A second core in the same state on the same track, that goes its own way from here: for
  /// whoever wants to know what would come of an event.
  [[nodiscard]] std::unique_ptr<Core> copy() const;
  /// Equal for states that go on alike, as far as time does not matter: places, authority, turns,
  /// jobs, stops, faults, what was told; times only by which of the core's own delays they have
  /// reached (0, 3, 15, 30 s; how long beyond that is left out). Not text.
  [[nodiscard]] std::string fingerprint() const;
  /// Throws std::logic_error if a cart could be let go on and has not been: every event must leave
  /// nothing that only a later one would find. Looks at the whole fleet; for simulation and tests.
  void assert_nobody_forgotten() const;

 private:
  struct State;
  explicit Core(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace tagline::control
