// A whole floor at work, far faster than real time: the real core, carts with exact motion, poor
// links, people who help, and a referee that knows only where bodies are. Event by event: nothing
// is stepped, nothing asks a clock; the same options give the same run, byte for byte.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/control/core.hpp"
#include "server/sim/job_source.hpp"

namespace tagline::sim {

class FleetCart;

struct FleetRunOptions {
  std::size_t carts{1};
  double hours{1};
  std::uint64_t seed{1};
  /// file: each pair of the floor's demand as a Poisson stream of its own rate. per_hour: that many
  /// jobs, Poisson, pairs in proportion to the demand, else all alike. saturate: there are always
  /// queued jobs, 6 for each cart and at least 10.
  enum class Jobs { file, per_hour, saturate } jobs{Jobs::file};
  double jobs_per_hour{0};
  double speed_noise{0};      // see CartNature::noise
  double miss_rate{0};        // see CartNature::miss_rate
  double stalls_per_hour{0};  // per cart: something is in its way for 5 to 60 s
  double drops_per_hour{0};   // per cart: its link is gone for 1 to 30 s
  /// A segment, a station or a cart is taken out of service for 20 to 400 s; never two at once.
  double closings_per_hour{0};
};

/// A point with several ways in and one out.
struct MergeWaits {
  PointIx point;
  std::uint64_t waits{};
  double seconds{};
};

struct FleetRunResult {
  std::uint64_t jobs_created{}, jobs_refused{}, deliveries{}, jobs_open{}, jobs_stranded{};
  double deliveries_per_hour{};
  std::uint64_t body_contacts{}, held_conflicts{}, gridlocks{}, stuck_carts{};
  /// Least free space the referee ever saw between two bodies, mm; infinity for a lone cart.
  double least_gap_mm{};
  /// Times a person had to place or release a cart.
  std::uint64_t helped{};
  /// From asking to delivery, of the jobs delivered.
  struct LeadTime {
    double mean{}, p50{}, p95{}, max{};
  } lead_time_s;
  /// Parts of all cart time; their sum is 1.
  struct Share {
    double loaded{}, empty{}, waiting{}, handling{}, charging{}, resting{};
  } share;
  double distance_m{};
  /// Mean number of open jobs over the run.
  double jobs_open_mean{};
  /// Longest time a cart stood waiting for its way with no fault of its own, s.
  double longest_wait_s{};
  /// Events the core took.
  std::uint64_t events{};
  std::uint64_t looks{};
  std::vector<MergeWaits> merges;
  /// What broke, where and when, one sentence; "" if nothing did. A contact, a conflict in the
  /// books and an exception of the core end the run at once; gridlocks and stuck carts don't.
  std::string broken;
  double simulated_s{};
};

/// No place for so many carts: says how many have one.
class TooManyCarts : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Every event as the core gets it, before it gets it.
using EventTap = std::function<void(Instant now, const control::Event& event)>;
/// A cart after something happened to it, and where it is until it is woken next (fleet_cart.hpp).
/// `now`: s since the run began.
using CartTap = std::function<void(double now, CartIx ix, const FleetCart& cart)>;
/// Simulated seconds so far and deliveries; called once a simulated minute.
using RunProgress = std::function<void(double seconds, std::uint64_t deliveries)>;

/// The moment at which every run begins.
inline constexpr Instant run_begins{std::chrono::seconds{1'800'000'000}};
/// "cart-1", "cart-2", ...
std::vector<std::string> run_cart_names(std::size_t carts);

/// `track` must outlive the call. Carts start on sidings, chargers first; where there are too few,
/// at points spread over the floor at which the core takes them. Throws TooManyCarts, and
/// std::invalid_argument for a floor without a pair of stations.
FleetRunResult run_fleet(const floor::Track& track, const FleetRunOptions& options,
                         const RunProgress& progress = {}, const EventTap& tap = {},
                         const CartTap& carts = {});

}  // namespace tagline::sim
