// What the network side knows of carts, jobs, loads and alarms: the views released after their
// commit, so nothing is ever shown that a crash could take back. Renders each thing once, numbers
// the changes, and keeps the last ones for clients that come back after a dropped link.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "server/net/alarm_board.hpp"
#include "server/net/json_view.hpp"
#include "server/net/release.hpp"
#include "server/net/ws_link.hpp"

namespace tagline::net {

class BoardModel {
 public:
  /// Changes kept for resuming: at most this many, and at most this many bytes.
  static constexpr std::size_t kept_changes = 2'000;
  static constexpr std::size_t kept_bytes = 16u << 20;
  /// Ended jobs kept for lists; a snapshot has the latest few of them.
  static constexpr std::size_t kept_ended_jobs = 1'000;
  static constexpr std::size_t snapshot_ended_jobs = 50;

  /// `track` and `cart_names` must outlive it. `run` differs at every start of the service.
  BoardModel(const floor::Track& track, const std::vector<std::string>& cart_names,
             control::LiveLimit live_limit, int pace, std::string run,
             std::vector<access::SeenAlarm> seen_alarms = {});
  BoardModel(const BoardModel&) = delete;
  BoardModel& operator=(const BoardModel&) = delete;

  /// Takes in new views. True if something may differ from what was shown before: a cart is
  /// compared when somebody wants to know, since carts change with every tag read.
  bool apply(const Views& views);

  // ---- for REST ----
  [[nodiscard]] std::string floor_json() const { return view_.floor(pace_, live_limit_, loads_); }
  [[nodiscard]] std::string carts_json() const;
  [[nodiscard]] const std::string& cart_json(CartIx cart) const;
  /// What decides whether a cart may leave the fleet.
  struct Standing {
    control::CartMode mode{control::CartMode::in_doubt};
    std::optional<control::JobId> job{};
  };
  [[nodiscard]] Standing standing(CartIx cart) const {
    const CartEntry& entry = carts_.at(cart.value);
    if (!entry.known) return {};
    return {entry.now.cart.mode, entry.now.cart.job};
  }
  /// `{"why":[...]}`
  [[nodiscard]] std::string cart_why_json(CartIx cart) const;
  [[nodiscard]] const control::Job* job(control::JobId id) const;
  /// "" if it isn't known here.
  [[nodiscard]] std::string job_json(control::JobId id) const;
  /// A job that isn't known here any more.
  [[nodiscard]] std::string job_json(const control::Job& job) const {
    return view_.job(job, "[]", {});
  }
  /// `{"why":[...]}`; an empty chain if it isn't known here.
  [[nodiscard]] std::string job_why_json(control::JobId id) const;
  [[nodiscard]] std::string stations_json() const;
  [[nodiscard]] std::string station_json(StationIx station) const;
  [[nodiscard]] std::string jobs_json(std::optional<control::JobState> state,
                                      std::size_t limit) const;
  [[nodiscard]] std::string alarms_json() const;
  /// `{"downtimes":[...]}`
  [[nodiscard]] std::string downtimes_json() const;
  /// `{"zones":[...]}`
  [[nodiscard]] std::string zones_json() const;
  [[nodiscard]] std::string zone_json(ZoneIx zone) const;
  [[nodiscard]] bool all_stopped() const { return all_stopped_; }
  [[nodiscard]] const std::string& run() const { return run_; }
  [[nodiscard]] std::size_t connected_carts() const;

  [[nodiscard]] AlarmBoard& alarm_board() { return alarms_; }
  /// AlarmBoard::mark(), for the next revision to tell.
  bool see_alarm(std::uint64_t alarm, const access::SeenAlarm& seen);

  // ---- for live updates ----
  /// What changed since the last one, as a new revision; nothing if nothing did.
  SharedText next_change(Instant now);
  [[nodiscard]] std::string snapshot(Instant now) const;
  /// "resumed" and the changes after revision `since`; nothing if they can't be had any more.
  [[nodiscard]] std::optional<std::vector<SharedText>> resume(std::string_view run,
                                                              std::uint64_t since,
                                                              Instant now) const;

 private:
  struct CartEntry {
    CartShown now;
    bool known{};  // false until the core has said what it is
    /// Of the latest revision.
    control::CartView told;
    std::string told_why{"[]"};
    // Made of `now` when somebody wants them; "" until then.
    mutable std::string text;
    mutable std::string why;
  };
  struct JobEntry {
    control::Job job;
    std::vector<control::Reason> reasons;
    std::string text;
    std::string why;
    /// As it is shown.
    std::optional<control::Expected> expected;
  };
  void put_cart(const CartShown& shown);
  const std::string& why_of(const CartEntry& entry) const;
  /// What of the changed carts differs from what was told; told from now on.
  std::string tell_carts();
  bool put_job(const JobShown& shown);
  [[nodiscard]] std::string list_jobs(std::optional<control::JobState> state, std::size_t limit,
                                      std::size_t ended_limit) const;

  JsonView view_;
  std::string run_;
  int pace_;
  control::LiveLimit live_limit_;
  std::vector<CartEntry> carts_;
  std::map<control::JobId, JobEntry> jobs_;
  /// Ended jobs by the moment they ended, oldest first.
  std::set<std::pair<Instant, control::JobId>> ended_;
  std::vector<std::optional<int>> loads_;  // by StationIx; nothing without a capacity
  AlarmBoard alarms_;
  std::string downtimes_{"[]"};
  std::vector<ZoneIx> stopped_zones_;
  bool all_stopped_{false};

  std::set<CartIx> changed_carts_;  // maybe
  std::set<control::JobId> changed_jobs_;
  std::set<StationIx> changed_stations_;
  bool alarms_changed_{false};
  bool fleet_changed_{false};
  bool downtimes_changed_{false};
  bool zones_changed_{false};

  std::uint64_t rev_{0};
  std::deque<SharedText> ring_;  // the change with revision rev_ is the last one
  std::size_t ring_bytes_{0};
};

}  // namespace tagline::net
