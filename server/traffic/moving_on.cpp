// See moving_on.hpp.
#include "server/traffic/moving_on.hpp"

#include <algorithm>
#include <queue>

namespace tagline::traffic {
namespace {

class Rehearsal {
 public:
  Rehearsal(const Guard& guard, CartIx cart, const std::vector<PoseIx>& steps,
            const std::vector<std::size_t>& needed, const std::vector<bool>& movable)
      : track_(guard.track()), movable_(movable), most_advances_(40 * track_.ways().pose_count()) {
    for (std::uint32_t i = 0; i < guard.cart_count(); ++i) {
      const Itinerary* itinerary = guard.itinerary({i});
      Cart next;
      next.known = itinerary != nullptr || CartIx{i} == cart;
      if (itinerary != nullptr) next.had = itinerary->ahead();
      if (CartIx{i} == cart) {
        next.steps = steps;
      } else if (next.known) {
        const auto from = static_cast<std::ptrdiff_t>(itinerary->authority);
        const auto until = from + 1 + static_cast<std::ptrdiff_t>(needed[i]);
        next.steps.assign(itinerary->steps.begin() + from, itinerary->steps.begin() + until);
      }
      carts_.push_back(std::move(next));
    }
    on_the_way_.assign(carts_.size(), false);
  }

  bool run(const std::vector<CartIx>& sequence) {
    return std::ranges::all_of(sequence, [&](CartIx cart) { return bring_to_end(cart); });
  }

  [[nodiscard]] std::vector<Change> changes() const {
    std::vector<Change> result;
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      const Cart& cart = carts_[i];
      if (!cart.known || (cart.ranks.empty() && cart.had == 0)) continue;
      result.push_back({{i}, {cart.steps.begin() + 1, cart.steps.end()}, cart.ranks});
    }
    return result;
  }

 private:
  struct Cart {
    bool known{false};
    std::vector<PoseIx> steps;
    std::size_t at{0};
    std::size_t had{0};  // steps beyond its authority before
    std::vector<Rank> ranks;
  };

  bool bring_to_end(CartIx cart) {
    while (carts_[cart.value].at + 1 < carts_[cart.value].steps.size()) {
      if (!step_on(cart)) return false;
    }
    return true;
  }

  [[nodiscard]] std::optional<CartIx> in_the_way(CartIx cart, PoseIx pose) const {
    for (std::uint32_t i = 0; i < carts_.size(); ++i) {
      if (CartIx{i} == cart || !carts_[i].known) continue;
      if (track_.clash(pose, carts_[i].steps[carts_[i].at])) return CartIx{i};
    }
    return {};
  }

  /// One step, others moved out of the way first. False if that can't be.
  bool step_on(CartIx ix) {
    if (on_the_way_[ix.value] || advances_ >= most_advances_) return false;
    if (!has_next(ix) && !add_step(ix)) return false;
    on_the_way_[ix.value] = true;
    bool clear = true;
    while (clear) {
      const Cart& cart = carts_[ix.value];
      const auto other = in_the_way(ix, cart.steps[cart.at + 1]);
      if (!other) break;
      clear = step_on(*other);
    }
    on_the_way_[ix.value] = false;
    if (!clear) return false;
    Cart& cart = carts_[ix.value];
    ++cart.at;
    cart.ranks.push_back(static_cast<Rank>(advances_++));
    return true;
  }

  [[nodiscard]] bool has_next(CartIx ix) const {
    return carts_[ix.value].at + 1 < carts_[ix.value].steps.size();
  }

  /// Sends a cart at its end on: the move whose end nobody is in the way of, else the quickest.
  bool add_step(CartIx ix) {
    if (!movable_[ix.value]) return false;
    const Cart& cart = carts_[ix.value];
    const floor::Move* best = nullptr;
    bool best_clear = false;
    for (const floor::Move& move : track_.ways().moves_from(cart.steps.back())) {
      const bool clear = !in_the_way(ix, move.to).has_value();
      if (best == nullptr || (clear && !best_clear) ||
          (clear == best_clear && move.time < best->time)) {
        best = &move;
        best_clear = clear;
      }
    }
    if (best == nullptr) return false;
    carts_[ix.value].steps.push_back(best->to);
    // It must not come to its end where it can't be seen to stop.
    if (track_.floor()[track_.ways()[best->to].at].tags.empty()) return add_step(ix);
    return true;
  }

  const floor::Track& track_;
  const std::vector<bool>& movable_;
  std::size_t most_advances_;
  std::size_t advances_{0};
  std::vector<Cart> carts_;
  std::vector<bool> on_the_way_;
};

}  // namespace

std::optional<std::vector<Change>> propose_moving_on(const Guard& guard, CartIx cart,
                                                     const std::vector<PoseIx>& steps,
                                                     const std::vector<std::size_t>& needed,
                                                     const std::vector<CartIx>& sequence,
                                                     const std::vector<bool>& movable) {
  Rehearsal rehearsal(guard, cart, steps, needed, movable);
  if (!rehearsal.run(sequence)) return {};
  return rehearsal.changes();
}

std::optional<std::size_t> fewest_in_a_jam(const floor::Track& track) {
  const floor::Ways& ways = track.ways();
  const std::size_t count = ways.pose_count();
  std::vector<std::vector<std::uint32_t>> kept_by(count);
  for (std::uint32_t p = 0; p < count; ++p) {
    std::vector<std::uint32_t>& next = kept_by[p];
    for (const floor::Move& move : ways.moves_from({p})) {
      for (const PoseIx q : track.clashes(move.to)) {
        if (!track.clash({p}, q)) next.push_back(q.value);
      }
    }
    std::ranges::sort(next);
    const auto doubles = std::ranges::unique(next);
    next.erase(doubles.begin(), doubles.end());
  }
  std::optional<std::size_t> shortest;
  for (std::uint32_t from = 0; from < count; ++from) {
    std::vector<std::size_t> distance(count, 0);  // 0: not seen
    std::queue<std::uint32_t> queue;
    queue.push(from);
    bool found = false;
    while (!queue.empty() && !found) {
      const std::uint32_t p = queue.front();
      queue.pop();
      const std::size_t length = (p == from ? 0 : distance[p]) + 1;
      if (shortest && length >= *shortest) break;
      for (const std::uint32_t q : kept_by[p]) {
        if (q == from) {
          shortest = length;
          found = true;
          break;
        }
        if (distance[q] != 0) continue;
        distance[q] = length;
        queue.push(q);
      }
    }
  }
  return shortest;
}

}  // namespace tagline::traffic
