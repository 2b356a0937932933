// Keeps the sums (sums.hpp): is told what each cart does from when on, and adds up.
#pragma once

#include <map>
#include <optional>
#include <tuple>
#include <utility>
#include <vector>

#include "server/control/view.hpp"
#include "server/figures/sums.hpp"
#include "server/floor/merge_points.hpp"

namespace tagline::figures {

/// What the cart's time goes into while it is as shown.
Use use_of(const control::CartView& cart);

/// Costs the same per call however many carts there are. Moments may come a little out of turn: a
/// cart's time never runs back.
class Tally {
 public:
  Tally(const floor::Track& track, std::size_t cart_count);
  /// From `at` on the cart is as shown. Before it was first shown its time counts for nothing.
  void see(Instant at, const control::CartView& cart);
  /// Everything up to `at` that has not been taken yet.
  [[nodiscard]] Sums take(Instant at);

 private:
  struct Now {
    Instant since;
    Use use{};
    std::optional<std::size_t> merge;  // that it waits for
  };
  void add(Now& now, CartIx cart, Instant until);

  floor::MergePoints merges_;
  std::vector<std::optional<Now>> carts_;
  std::map<std::tuple<Instant, CartIx, Use>, Duration> times_;
  struct Waits {
    int waits{};
    Duration time{};
  };
  std::map<std::pair<Instant, std::size_t>, Waits> waits_;
};

}  // namespace tagline::figures
