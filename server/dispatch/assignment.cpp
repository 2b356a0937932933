// See assignment.hpp.
#include "server/dispatch/assignment.hpp"

#include <algorithm>
#include <numeric>

namespace tagline::dispatch {
namespace {

constexpr Duration one_priority_step = std::chrono::minutes{10};

Duration urgency(const OpenJob& job) { return one_priority_step * job.priority + job.age; }

}  // namespace

std::vector<Match> assign(const floor::Ways& ways, const std::vector<OpenJob>& jobs,
                          const std::vector<FreeCart>& carts,
                          const std::function<bool(CartIx, PoseIx)>& open) {
  std::vector<std::size_t> by_urgency(jobs.size());
  std::iota(by_urgency.begin(), by_urgency.end(), std::size_t{0});
  std::ranges::stable_sort(by_urgency, [&](std::size_t a, std::size_t b) {
    return urgency(jobs[a]) > urgency(jobs[b]);
  });

  std::vector<std::vector<Duration>> times(carts.size());  // filled when first needed
  std::vector<bool> taken(carts.size(), false);
  const auto arrival = [&](std::size_t c, PointIx pickup) {
    if (times[c].empty()) {
      times[c] = floor::times_from(ways, carts[c].start,
                                   [&](PoseIx pose) { return open(carts[c].cart, pose); });
    }
    Duration best = Duration::max();
    for (const PoseIx pose : ways.poses_at(pickup)) best = std::min(best, times[c][pose.value]);
    return best == Duration::max() ? best : best + carts[c].ready;
  };

  std::vector<Match> matches;
  for (const std::size_t job : by_urgency) {
    std::size_t best_cart = carts.size();
    Duration best = Duration::max();
    for (std::size_t c = 0; c < carts.size(); ++c) {
      if (taken[c]) continue;
      const Duration when = arrival(c, jobs[job].pickup);
      if (when < best) {
        best = when;
        best_cart = c;
      }
    }
    if (best_cart == carts.size()) continue;
    taken[best_cart] = true;
    matches.push_back({job, best_cart});
  }
  return matches;
}

}  // namespace tagline::dispatch
