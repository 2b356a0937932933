// See fleet_accounts.hpp.
#include "server/sim/fleet_accounts.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <numeric>

namespace tagline::sim {

// ---- jobs ---------------------------------------------------------------------------------------

void FleetAccounts::add_open(double now) {
  open_area_ += static_cast<double>(open_) * (now - open_since_);
  open_since_ = now;
}

bool FleetAccounts::take(const control::Job& job, double now) {
  if (jobs_.size() < job.id.value) {
    jobs_.resize(job.id.value, control::JobState::queued);
    add_open(now);
    ++open_;
    ++queued_;
    ++created_;
  }
  control::JobState& state = jobs_[job.id.value - 1];
  if (state == job.state) return false;
  if (state == control::JobState::queued) --queued_;
  if (job.state == control::JobState::queued) ++queued_;
  state = job.state;
  if (!control::is_final(job.state)) return false;
  add_open(now);
  --open_;
  if (job.state == control::JobState::stranded) ++stranded_;
  if (job.state != control::JobState::delivered) return false;
  ++deliveries_;
  lead_times_.push_back(std::chrono::duration<double>(*job.ended_at - job.created).count());
  return true;
}

// ---- waits --------------------------------------------------------------------------------------

void FleetAccounts::follow_wait(CartIx cart, bool waits, double now) {
  Wait& wait = waits_[cart.value];
  if (waits == wait.lasts) return;
  if (waits) {
    wait = {true, now, {}};
  } else {
    end_wait(wait, now);
  }
}

void FleetAccounts::end_wait(Wait& wait, double now) {
  const double lasted = now - wait.since;
  longest_wait_s_ = std::max(longest_wait_s_, lasted);
  if (wait.merge) merges_.add(*wait.merge, lasted);
  wait = {};
}

// ---- the end ------------------------------------------------------------------------------------

void FleetAccounts::close(std::vector<FleetCart>& carts, double now, FleetRunResult& result) {
  result.simulated_s = now;
  close_jobs(now, result);
  close_carts(carts, now, result);
  for (Wait& wait : waits_) {
    if (wait.lasts) end_wait(wait, now);
  }
  result.longest_wait_s = longest_wait_s_;
  result.merges = merges_.waits();
}

void FleetAccounts::close_jobs(double now, FleetRunResult& result) {
  add_open(now);
  result.jobs_created = created_;
  result.jobs_stranded = stranded_;
  result.jobs_open = open_;
  result.jobs_open_mean = now > 0 ? open_area_ / now : 0;
  result.deliveries = deliveries_;
  result.deliveries_per_hour = now > 0 ? static_cast<double>(deliveries_) * 3600 / now : 0;
  if (lead_times_.empty()) return;
  std::ranges::sort(lead_times_);
  const auto count = static_cast<double>(lead_times_.size());
  const auto rank = [&](double part) {  // nearest rank
    return lead_times_[static_cast<std::size_t>(std::max(1.0, std::ceil(part * count))) - 1];
  };
  const double sum = std::accumulate(lead_times_.begin(), lead_times_.end(), 0.0);
  result.lead_time_s = {sum / count, rank(0.5), rank(0.95), lead_times_.back()};
}

void FleetAccounts::close_carts(std::vector<FleetCart>& carts, double now, FleetRunResult& result) {
  std::array<double, spent_kinds> spent{};
  for (FleetCart& cart : carts) {
    cart.account(now);
    result.distance_m += cart.driven_mm() / 1000;
    for (std::size_t k = 0; k < spent_kinds; ++k) spent[k] += cart.spent(static_cast<Spent>(k));
  }
  const double all = std::accumulate(spent.begin(), spent.end(), 0.0);
  if (all <= 0) return;
  result.share = {spent[0] / all, spent[1] / all, spent[2] / all,
                  spent[3] / all, spent[4] / all, spent[5] / all};
}

}  // namespace tagline::sim
