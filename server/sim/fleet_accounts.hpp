// The accounts of a fast run: what became of the jobs, how long carts waited and for which merge,
// and the figures that come of it all in the end. Is told what happens; changes nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "server/control/job.hpp"
#include "server/sim/fleet_cart.hpp"
#include "server/sim/fleet_run.hpp"
#include "server/sim/merge_waits.hpp"

namespace tagline::sim {

/// Every `now` is the run's, s, and never goes back.
class FleetAccounts {
 public:
  FleetAccounts(const floor::Track& track, std::size_t carts) : merges_{track}, waits_(carts) {}

  // ---- jobs ----------------------------------------------------------------------------------
  /// A job is new, or has changed. True if it has just been delivered.
  bool take(const control::Job& job, double now);
  /// Jobs that no cart has taken up, and all that haven't ended.
  [[nodiscard]] std::size_t queued() const { return queued_; }
  [[nodiscard]] std::uint64_t open() const { return open_; }
  [[nodiscard]] std::uint64_t deliveries() const { return deliveries_; }

  // ---- waits ---------------------------------------------------------------------------------
  /// Whether the cart stands waiting for its way, as of now.
  void follow_wait(CartIx cart, bool waits, double now);
  /// How long it has waited by now, s; 0 if it doesn't.
  [[nodiscard]] double waited(CartIx cart, double now) const {
    const Wait& wait = waits_[cart.value];
    return wait.lasts ? now - wait.since : 0;
  }
  /// It waits, and nobody has said yet for which merge.
  [[nodiscard]] bool wants_merge(CartIx cart) const {
    return waits_[cart.value].lasts && !waits_[cart.value].merge;
  }
  /// A waiting cart waits for this piece.
  void waits_for(CartIx cart, PieceIx piece) { waits_[cart.value].merge = merges_.of(piece); }

  // ---- the end -------------------------------------------------------------------------------
  /// Closes the accounts, those of the carts too, and fills in all that they say.
  void close(std::vector<FleetCart>& carts, double now, FleetRunResult& result);

 private:
  struct Wait {
    bool lasts{false};
    double since{};
    std::optional<std::size_t> merge;
  };

  /// Adds up the open jobs until now.
  void add_open(double now);
  void end_wait(Wait& wait, double now);
  void close_carts(std::vector<FleetCart>& carts, double now, FleetRunResult& result);
  void close_jobs(double now, FleetRunResult& result);

  std::vector<control::JobState> jobs_;  // by id, from 1
  std::size_t queued_{0};
  std::uint64_t created_{0}, deliveries_{0}, stranded_{0};
  std::uint64_t open_{0};
  double open_area_{0}, open_since_{0};
  std::vector<double> lead_times_;
  MergeTable merges_;
  std::vector<Wait> waits_;
  double longest_wait_s_{0};
};

}  // namespace tagline::sim
