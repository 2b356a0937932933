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
             control::LiveLimit live_limit, int pace, std::string run);

  /// Takes in new views. True if something may differ from what was shown before: a cart's text is
  /// made when somebody wants it, since carts change with every tag read and paths are long.
  bool apply(const Views& views);

  // ---- for REST ----
  [[nodiscard]] std::string floor_json() const { return view_.floor(pace_, live_limit_, loads_); }
  [[nodiscard]] std::string carts_json() const;
  [[nodiscard]] const std::string& cart_json(CartIx cart) const { return rendered(cart).text; }
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
  [[nodiscard]] std::size_t connected_carts() const;

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
    std::string text;
    std::string why{"[]"};
    bool connected{};
    /// What the texts are still to be made of; nothing if they are as it is.
    std::optional<CartShown> newer;
    /// The text has changed since the last revision.
    bool changed{};
  };
  struct JobEntry {
    control::Job job;
    std::string text;
    std::string why;
    /// As it is shown.
    std::optional<control::Expected> expected;
  };
  void put_cart(const CartShown& shown);
  const CartEntry& rendered(CartIx cart) const;
  bool put_job(const JobShown& shown);
  [[nodiscard]] std::string list_jobs(std::optional<control::JobState> state, std::size_t limit,
                                      std::size_t ended_limit) const;

  JsonView view_;
  std::string run_;
  int pace_;
  control::LiveLimit live_limit_;
  mutable std::vector<CartEntry> carts_;  // texts are made late
  std::map<control::JobId, JobEntry> jobs_;
  /// Ended jobs by the moment they ended, oldest first.
  std::set<std::pair<Instant, control::JobId>> ended_;
  std::vector<std::optional<int>> loads_;  // by StationIx; nothing without a capacity
  std::string alarms_{"[]"};
  std::string downtimes_{"[]"};
  std::vector<ZoneIx> stopped_zones_;
  bool all_stopped_{false};

  std::set<CartIx> changed_carts_;  // or only looked at
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
