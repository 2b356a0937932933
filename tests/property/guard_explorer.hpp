// Explores every order in which reads, grants and changes of way can come, time left out, with the
// guard against an adversary that proposes anything. What is clear, which sequence completes and
// who can get home is worked out here from the floor's tables alone, without the guard, its
// run-through or the planner.
//
// A state is, per cart, which of its ways it is on, the last tag read and the end of its authority.
// From every state and for every cart the adversary tries
//   - the next read;
//   - one step more in turn, as the ranks stand;
//   - one step more with other turns: with a sequence that completes if there is one (found here by
//     trying all), else with several that don't; and with sequences at random, or with every
//     sequence there is where they are few;
//   - its other way, with a sequence that completes if there is one, else with others.
// Each answer must be exactly what the tables say: accepted if and only if the next pose is clear
// of what others hold and the sequence proposed completes. So what is reached is all that can be
// reached by any proposals, and what is refused is all that must be.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <random>
#include <stdexcept>
#include <string>
#include <unordered_map>
#include <unordered_set>
#include <vector>

#include "server/traffic/guard.hpp"
#include "tests/property/guard_scene.hpp"

namespace tagline::test {

enum class Planted {
  nothing,
  way_out_off,      // any other turns are taken: only what is held now counts
  turn_ignored,     // a grant in turn is given to whoever asks first
  release_by_time,  // track behind is freed one tag too early
};

struct Limits {
  /// No more authority than this is asked for at once.
  std::size_t ahead{100};
  /// Sequences tried at random per proposal; all instead, where there are no more than `every`.
  std::size_t at_random{2};
  std::size_t every{0};
};

struct Findings {
  std::size_t states{0};
  std::size_t answers{0};    // proposals and the guard's answers to them compared
  std::size_t refusals{0};   // of these, refused
  std::size_t wrong{0};      // of these, not what the tables say
  std::size_t contacts{0};   // states in which two bodies could touch (I1, I2)
  std::size_t overlaps{0};   // states in which two carts hold clashing track (I1)
  std::size_t unheld{0};     // states in which the books are not the covers of pass and authority
  std::size_t planless{0};   // states whose turns, as they stand, don't complete (I5)
  std::size_t locked_in{0};  // states from which no sequence brings everybody home (I5)
};

class GuardExplorer {
 public:
  /// `believed`: the tables the guard is given; those of the scene unless a fault is planted there.
  GuardExplorer(const Scene& scene, Limits limits, Planted planted = Planted::nothing,
                const floor::Track* believed = nullptr)
      : scene_(scene),
        limits_(limits),
        planted_(planted),
        faulty_(planted != Planted::nothing || believed != nullptr),
        track_(believed != nullptr ? *believed : scene.track),
        random_(1) {}

  Findings run() {
    const State begin(scene_.trips.size());
    if (!gets_home(begin)) throw std::runtime_error("no way home on " + scene_.floor.name);
    const traffic::Order& order = way_home(begin);
    Books books{traffic::Guard(track_, begin.size()), order};
    std::vector<bool> there(begin.size(), false);
    for (std::uint32_t c = 0; c < begin.size(); ++c) {
      if (books_only()) {
        books.guard.lost({c}, track_.cover(scene_.trips[c][0][0]));
        continue;
      }
      // Each is placed with the turns of those placed so far.
      there[c] = true;
      traffic::Order part = order;
      std::erase_if(part, [&](CartIx cart) { return !there[cart.value]; });
      if (books.guard.place({c}, {scene_.trips[c][0], 0}, part)) {
        throw std::runtime_error("a cart can't be placed on " + scene_.floor.name);
      }
    }
    levels_.assign(1, books);
    seen_.insert(key(begin));
    visit(0, begin);
    return found_;
  }

 private:
  struct Cart {
    std::uint8_t way{}, passed{}, until{};
  };
  /// At most four carts.
  class State {
   public:
    explicit State(std::size_t carts) : count_(carts) {}
    [[nodiscard]] std::size_t size() const { return count_; }
    Cart& operator[](std::size_t c) { return carts_[c]; }
    const Cart& operator[](std::size_t c) const { return carts_[c]; }
    [[nodiscard]] const Cart* begin() const { return carts_.data(); }
    [[nodiscard]] const Cart* end() const { return carts_.data() + count_; }

   private:
    std::array<Cart, 4> carts_{};
    std::size_t count_;
  };

  static std::uint64_t key(const State& state) {
    std::uint64_t k = 0;
    for (const Cart& c : state) {
      k = k << 16 | static_cast<std::uint64_t>(c.way) << 14 |
          static_cast<std::uint64_t>(c.passed) << 7 | c.until;
    }
    return k;
  }
  [[nodiscard]] const std::vector<PoseIx>& trip(const State& state, std::size_t c) const {
    return scene_.trips[c][state[c].way];
  }

  // ---- what the tables say

  /// Nobody else holds anything that clashes with the pose.
  [[nodiscard]] bool clear(const State& state, std::size_t c, PoseIx pose) const {
    for (std::size_t o = 0; o < state.size(); ++o) {
      if (o == c) continue;
      for (std::size_t s = freed(state[o]); s <= state[o].until; ++s) {
        if (scene_.touch(pose, trip(state, o)[s])) return false;
      }
    }
    return true;
  }
  /// From where the guard believes that the cart still needs track.
  [[nodiscard]] std::size_t freed(const Cart& cart) const {
    return planted_ == Planted::release_by_time && cart.passed < cart.until ? cart.passed + 1
                                                                            : cart.passed;
  }
  /// Everybody at the end of its authority, then stepping on in this sequence, all get to their
  /// ends and nobody steps where it could touch another one.
  [[nodiscard]] bool completes(const State& state, const traffic::Order& order) const {
    State run = state;
    for (const CartIx cart : order) {
      if (at_end(run, cart.value) || !step(run, cart.value)) return false;
    }
    for (std::size_t c = 0; c < run.size(); ++c) {
      if (!at_end(run, c)) return false;
    }
    return true;
  }
  /// One step on, for the end of the authority alone. False if somebody stands in the way.
  [[nodiscard]] bool step(State& run, std::size_t c) const {
    const PoseIx next = trip(run, c)[run[c].until + 1u];
    for (std::size_t o = 0; o < run.size(); ++o) {
      if (o != c && scene_.touch(next, trip(run, o)[run[o].until])) return false;
    }
    ++run[c].until;
    return true;
  }
  /// Some sequence completes. All are tried; what is known of a position is kept.
  bool gets_home(const State& state) {
    const std::uint64_t k = position_key(state);
    if (const auto known = home_.find(k); known != home_.end()) return known->second;
    bool all = true;
    bool some = false;
    for (std::size_t c = 0; c < state.size() && !some; ++c) {
      if (at_end(state, c)) continue;
      all = false;
      State then = state;
      some = step(then, c) && gets_home(then);
    }
    return home_[k] = all || some;
  }
  static std::uint64_t position_key(const State& state) {
    std::uint64_t k = 0;
    for (const Cart& c : state) k = k << 16 | static_cast<std::uint64_t>(c.way) << 8 | c.until;
    return k;
  }
  [[nodiscard]] bool at_end(const State& state, std::size_t c) const {
    return state[c].until + 1u == trip(state, c).size();
  }
  /// A sequence that completes, where there is one.
  const traffic::Order& way_home(const State& state) {
    const auto [known, fresh] = way_home_.try_emplace(position_key(state));
    traffic::Order& order = known->second;
    if (!fresh) return order;
    State run = state;
    for (bool moved = true; moved;) {
      moved = false;
      for (std::uint32_t i = 0; i < run.size() && !moved; ++i) {
        // Not always the same one first, so that ranks of all kinds come up.
        const auto c = static_cast<std::uint32_t>((i + order.size()) % run.size());
        if (at_end(run, c)) continue;
        State then = run;
        if (!step(then, c) || !gets_home(then)) continue;
        run = then;
        order.push_back({c});
        moved = true;
      }
    }
    return order;
  }
  /// Of all steps that are left, in any sequence.
  traffic::Order any_order(const State& state) {
    traffic::Order order;
    for (std::uint32_t c = 0; c < state.size(); ++c) {
      order.insert(order.end(), trip(state, c).size() - 1 - state[c].until, CartIx{c});
    }
    std::ranges::shuffle(order, random_);
    return order;
  }

  // ---- one state

  void visit(std::size_t level, const State& state) {
    ++found_.states;
    if (levels_.size() < level + 2) levels_.push_back(levels_[level]);
    look_at(level, state);
    for (std::uint32_t c = 0; c < state.size(); ++c) {
      if (state[c].passed < state[c].until) {
        State next = state;
        ++next[c].passed;
        if (is_new(next)) {
          copy_books(level);
          go_on(level + 1, next, c);
        }
      }
      if (!at_end(state, c) && state[c].until < state[c].passed + limits_.ahead) {
        ask_for_a_step(level, state, c);
      }
      if (!faulty_) ask_for_other_ways(level, state, c);
    }
  }

  bool is_new(const State& state) { return !seen_.contains(key(state)); }
  void copy_books(std::size_t level) { levels_[level + 1] = levels_[level]; }
  void go_on(std::size_t level, const State& next, std::uint32_t c) {
    seen_.insert(key(next));
    // The guard is told what is taken to be free behind the cart by now.
    traffic::Guard& guard = levels_[level].guard;
    if (!books_only()) {
      const std::size_t wanted = next[c].until - freed(next[c]);
      const std::size_t has = guard.itinerary({c})->authority;
      if (has > wanted) guard.passed({c}, has - wanted);
    } else {
      guard.remove({c});
      for (std::size_t s = freed(next[c]); s <= next[c].until; ++s) {
        guard.lost({c}, track_.cover(trip(next, c)[s]));
      }
    }
    visit(level, next);
  }

  void look_at(std::size_t level, const State& state) {
    bool contact = false;
    bool overlap = false;
    for (std::size_t a = 0; a < state.size(); ++a) {
      for (std::size_t b = 0; b < a; ++b) {
        for (std::size_t s = state[a].passed; s <= state[a].until; ++s) {
          for (std::size_t t = state[b].passed; t <= state[b].until; ++t) {
            if (!scene_.touch(trip(state, a)[s], trip(state, b)[t])) continue;
            overlap = true;
            // A body is between the last tag read and the next one.
            contact = contact || (s <= state[a].passed + 1u && t <= state[b].passed + 1u);
          }
        }
      }
    }
    found_.contacts += contact ? 1 : 0;
    found_.overlaps += overlap ? 1 : 0;
    found_.locked_in += gets_home(state) ? 0 : 1;
    const traffic::Guard& guard = levels_[level].guard;
    found_.planless += completes(state, turns(level)) ? 0 : 1;
    if (faulty_) return;
    for (std::uint32_t c = 0; c < state.size(); ++c) {
      std::vector<PieceIx> pieces;
      for (std::size_t s = state[c].passed; s <= state[c].until; ++s) {
        const auto cover = scene_.track.cover(trip(state, c)[s]);
        pieces.insert(pieces.end(), cover.begin(), cover.end());
      }
      std::ranges::sort(pieces);
      const auto doubles = std::ranges::unique(pieces);
      pieces.erase(doubles.begin(), doubles.end());
      if (pieces != guard.holdings({c})) ++found_.unheld;
    }
  }

  // ---- proposals

  void ask_for_a_step(std::size_t level, const State& state, std::uint32_t c) {
    State next = state;
    ++next[c].until;
    const bool is_clear = clear(state, c, trip(state, c)[next[c].until]);
    const auto after = [&](bool accepted, bool expected) {
      compare(accepted, expected);
      if (accepted && is_new(next)) go_on(level + 1, next, c);
    };
    // In turn: the same as with its next advance before all others.
    traffic::Order in_turn = turns(level);
    if (const auto own = std::ranges::find(in_turn, CartIx{c}); own != in_turn.end()) {
      in_turn.erase(own);
    }
    if (planted_ != Planted::way_out_off) {
      copy_books(level);
      after(grant(level + 1, state, c, nullptr), is_clear && completes(next, in_turn));
    }
    if (planted_ == Planted::turn_ignored) return;

    copy_books(level);
    if (gets_home(next)) {
      after(grant(level + 1, state, c, &way_home(next)), is_clear);
    } else {
      after(grant(level + 1, state, c, &in_turn), false);
    }
    if (faulty_) return;
    for_some_orders(next, [&](const traffic::Order& some) {
      copy_books(level);
      compare(grant(level + 1, state, c, &some), is_clear && completes(next, some));
    });
  }

  void ask_for_other_ways(std::size_t level, const State& state, std::uint32_t c) {
    for (std::size_t way = 0; way < scene_.trips[c].size(); ++way) {
      if (way == state[c].way) continue;
      const auto& other = scene_.trips[c][way];
      // Only beyond its authority can it go another way.
      if (other.size() <= state[c].until ||
          !std::equal(other.begin(), other.begin() + state[c].until + 1, trip(state, c).begin())) {
        continue;
      }
      State next = state;
      next[c].way = static_cast<std::uint8_t>(way);
      const std::vector<PoseIx> tail(other.begin() + state[c].until + 1, other.end());
      const auto ask = [&](const traffic::Order& order) {
        copy_books(level);
        return !levels_[level + 1].guard.reroute({c}, tail, order);
      };
      for_some_orders(
          next, [&](const traffic::Order& some) { compare(ask(some), completes(next, some)); });
      if (!gets_home(next)) continue;
      const bool accepted = ask(way_home(next));
      compare(accepted, true);
      if (accepted && is_new(next)) go_on(level + 1, next, c);
    }
  }

  template <class Try>
  void for_some_orders(const State& state, Try attempt) {
    traffic::Order order = any_order(state);
    if (limits_.every > 0 && sequences(order, state.size()) <= limits_.every) {
      std::ranges::sort(order);
      do {
        attempt(order);
      } while (std::ranges::next_permutation(order).found);
      return;
    }
    for (std::size_t i = 0; i < limits_.at_random; ++i) attempt(any_order(state));
  }
  /// How many different sequences there are of these advances.
  static std::size_t sequences(const traffic::Order& order, std::size_t carts) {
    double count = 1;
    double placed = 0;
    for (std::uint32_t c = 0; c < carts; ++c) {
      const auto mine = std::ranges::count(order, CartIx{c});
      for (std::ptrdiff_t i = 1; i <= mine; ++i) count *= ++placed / static_cast<double>(i);
    }
    return count > 1e9 ? 1'000'000'000 : static_cast<std::size_t>(std::llround(count));
  }

  /// One step more, in turn or with other turns; true if it was given.
  bool grant(std::size_t level, const State& state, std::uint32_t c, const traffic::Order* order) {
    Books& books = levels_[level];
    if (!books_only()) {
      return !(order == nullptr ? books.guard.grant({c}, 1) : books.guard.grant({c}, 1, *order));
    }
    if (books.guard.obstacle({c}, track_.cover(trip(state, c)[state[c].until + 1u]))) return false;
    if (order != nullptr) {
      books.turns = *order;
    } else {
      books.turns.erase(std::ranges::find(books.turns, CartIx{c}));
    }
    return true;
  }
  /// With these faults the guard only keeps the books of what is held; whether to give a step is
  /// decided here, wrongly.
  [[nodiscard]] bool books_only() const {
    return planted_ == Planted::way_out_off || planted_ == Planted::turn_ignored;
  }
  struct Books {
    traffic::Guard guard;
    traffic::Order turns;  // used with books_only()
  };
  [[nodiscard]] traffic::Order turns(std::size_t level) const {
    return books_only() ? levels_[level].turns : levels_[level].guard.order();
  }

  void compare(bool accepted, bool expected) {
    ++found_.answers;
    found_.refusals += accepted ? 0 : 1;
    found_.wrong += accepted == expected ? 0 : 1;
  }

  const Scene& scene_;
  Limits limits_;
  Planted planted_;
  bool faulty_;
  const floor::Track& track_;
  std::mt19937 random_;
  Findings found_;
  std::vector<Books> levels_;  // as they are in each state on the way here
  std::unordered_set<std::uint64_t> seen_;
  std::unordered_map<std::uint64_t, bool> home_;
  std::unordered_map<std::uint64_t, traffic::Order> way_home_;
};

}  // namespace tagline::test
