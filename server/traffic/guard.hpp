// The traffic guard: who holds which track, and the proof that everybody can still get home.
//
// Small and exact, so that it can be checked by hand. Whatever is proposed, by whomever and in any
// order, the guard accepts it only if these stay true (design.md 2):
//   I1  no two carts hold conflicting track (a cart in doubt may overlap another: what it holds is
//       a guess on the safe side, and nobody is ever granted track that it holds);
//   I2  a cart's authority lies on track it holds;
//   I3  track is given up only by passed(), that is by a tag read, or by a person (remove());
//   I5  the turns are a complete plan: carts advancing one step at a time, by rank, all reach the
//       end of their steps, each step being clear when its turn comes.
//
// Turns. Every step beyond a cart's authority has a rank, rising along the cart's way. All these
// advances, sorted by rank (equal ones by cart), are one sequence. In it a cart is in the pose of
// step i from its advance into i (from the start, for the end of its authority) to its advance into
// i + 1 (for ever, for its last step). The sequence completes exactly if no two carts are in
// clashing poses (Track::clashes) at once: a condition on pairs of steps, so a proposal that
// changes one cart is checked against the steps that clash with its own and nothing else. For two
// clashing steps the ranks say who goes first; since ranks are numbers, "goes first" can't run in a
// circle (the acyclic passing order of W. Hoenig et al., "Persistent and robust execution of MAPF
// schedules in warehouses", IEEE RA-L 4, 2019).
// So the first cart in the sequence can always be granted its next step once the others have run
// out their authority: carts never lock each other in, by construction. This is deadlock avoidance
// by keeping to safe states (E. W. Dijkstra, "Cooperating sequential processes", EWD 123, 1965; for
// guided vehicles: S. A. Reveliotis, "Conflict resolution in AGV systems", IIE Transactions 32,
// 2000), with the witness of safety kept and replaced, instead of searched for each time.
//
// The guard assumes that a cart which is known and has authority can run it out; a cart that fails
// holds the others up but never locks them in: once a person has dealt with it, all can go on.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::traffic {

/// A sequence of advances: each entry lets that cart go one step on.
using Order = std::vector<CartIx>;
/// The place of an advance in the sequence of all; only comparisons count.
using Rank = std::int64_t;

/// Why a proposal was refused.
struct Obstacle {
  enum class Kind {
    held,        // `piece` is held by, or conflicts with track held by, `by`
    turn,        // it is free, but `by` is to pass there first
    no_way_out,  // the proposal's turns don't bring everybody to the end
    malformed,   // the proposal makes no sense: steps that don't join, authority beyond the end
  };
  Kind kind{};
  PieceIx piece{};
  CartIx by{};
};

/// Where a cart is and means to go. steps[0] is the last pose it is known to have passed,
/// steps.back() its place of rest; it may go as far as steps[authority].
struct Itinerary {
  std::vector<PoseIx> steps;
  std::size_t authority{};
  [[nodiscard]] std::size_t ahead() const { return steps.size() - 1 - authority; }
};

/// New steps beyond a cart's authority, or new ranks for the present ones, or both.
struct Change {
  CartIx cart;
  std::vector<PoseIx> tail;
  std::vector<Rank> ranks;  // one per step of `tail`, rising
};

/// A cart's step that makes use of a pose: its index in the cart's itinerary.
struct Use {
  CartIx cart;
  std::size_t step{};
};

class Guard {
 public:
  /// No cart is on the floor. `track` must outlive the guard.
  Guard(const floor::Track& track, std::size_t carts);

  // Proposals. Empty result: accepted. Otherwise nothing has changed.

  /// Cart `cart`, off the floor or in doubt, is known to be on `itinerary`. `order`: all turns.
  std::optional<Obstacle> place(CartIx cart, Itinerary itinerary, const Order& order);
  /// Several carts' steps and ranks at once, each cart at most once; the others keep theirs.
  std::optional<Obstacle> replan(std::span<const Change> changes);
  /// Replaces all steps beyond the authority of `cart`, and everybody's turns.
  std::optional<Obstacle> reroute(CartIx cart, std::span<const PoseIx> tail, const Order& order);
  /// Lets `cart` go `count` steps further, if it is its turn on all of them.
  std::optional<Obstacle> grant(CartIx cart, std::size_t count);
  /// The same with other turns for everybody.
  std::optional<Obstacle> grant(CartIx cart, std::size_t count, const Order& order);

  // Facts. They can't be refused; a fact that contradicts the books throws std::logic_error.

  /// A tag read shows that `cart` has passed steps[count]; count <= authority.
  void passed(CartIx cart, std::size_t count);
  /// The cart may be on any of `pieces` and on all it holds already (I8). It has no itinerary any
  /// more, and keeps all of it until placed or removed.
  void lost(CartIx cart, std::span<const PieceIx> pieces);
  /// A person says that the cart is off the floor.
  void remove(CartIx cart);

  // Books.

  [[nodiscard]] const floor::Track& track() const { return *track_; }
  [[nodiscard]] std::size_t cart_count() const { return carts_.size(); }
  /// Null while the cart is off the floor or in doubt.
  [[nodiscard]] const Itinerary* itinerary(CartIx cart) const {
    const auto& itinerary = carts_[cart.value].itinerary;
    return itinerary ? &*itinerary : nullptr;
  }
  /// As long as the steps; meaningful beyond the authority.
  [[nodiscard]] std::span<const Rank> ranks(CartIx cart) const { return carts_[cart.value].ranks; }
  [[nodiscard]] bool in_doubt(CartIx cart) const;
  [[nodiscard]] bool holds_any(CartIx cart) const { return !carts_[cart.value].held.empty(); }
  /// Sorted by piece.
  [[nodiscard]] std::vector<PieceIx> holdings(CartIx cart) const;
  /// All turns, in sequence.
  [[nodiscard]] Order order() const;
  /// The carts whose steps or turns a proposal has changed since this was last called. They, and
  /// those that wait for them, may have become free to go on.
  std::vector<CartIx> take_replanned();
  /// The steps, of all carts, that use this very pose, the ones passed left out.
  [[nodiscard]] std::vector<Use> uses(PoseIx pose) const;
  /// Calls visit(Use) for each step of another cart than `cart` whose pose clashes with `pose`.
  template <class Visit>
  void for_each_rival(CartIx cart, PoseIx pose, Visit visit) const {
    for (const PoseIx rival : track_->clashes(pose)) {
      for (const Entry& entry : uses_[rival.value]) {
        if (entry.cart != cart)
          visit(Use{entry.cart, entry.number - carts_[entry.cart.value].base});
      }
    }
  }
  /// What keeps `cart` from holding all of `pieces` now; empty if nothing does.
  [[nodiscard]] std::optional<Obstacle> obstacle(CartIx cart,
                                                 std::span<const PieceIx> pieces) const;
  /// What keeps a known `cart` from being granted step `i` of its itinerary, which lies beyond its
  /// authority, if it has all before it.
  [[nodiscard]] std::optional<Obstacle> obstacle_to_step(CartIx cart, std::size_t i) const;
  /// Would `order` bring every known cart to its end, if `changed` had `instead`?
  [[nodiscard]] bool completes(const Order& order, CartIx changed, const Itinerary& instead) const;

  /// Recomputes I1, I2 and I5 from nothing and throws std::logic_error if one is broken.
  void assert_invariants() const;
  /// The same for what has changed since it was last called, in time that doesn't grow with the
  /// fleet; I5 from nothing after at most `full_check_every` changes of plan.
  void assert_recent();

 private:
  struct Cart {
    std::optional<Itinerary> itinerary;
    std::vector<Rank> ranks;
    std::uint64_t base{0};  // steps passed since ever: the number of steps[0]
    bool doubt{false};
    bool changed{false};
    std::vector<std::uint32_t> holds;  // piece -> how many reasons to hold it
    std::vector<PieceIx> held;         // those with a reason, in any order
  };
  /// As Use, by a number that doesn't shift when steps are passed.
  struct Entry {
    CartIx cart;
    std::uint64_t number{};
  };

  void hold(CartIx cart, std::span<const PieceIx> pieces);
  void release(CartIx cart, std::span<const PieceIx> pieces);
  void release_all(CartIx cart);
  void enter_uses(CartIx cart);
  void strike_uses(CartIx cart, std::size_t first, std::size_t last);
  void note_change(CartIx cart);
  /// A cart's whole books for what is to come.
  struct Books {
    CartIx cart;
    Itinerary itinerary;
    std::vector<Rank> ranks;
  };
  /// Puts these in place if no pair of clashing steps would be in use at once.
  bool adopt(std::vector<Books> next);
  [[nodiscard]] bool in_turn(CartIx cart) const;
  [[nodiscard]] bool well_formed(const Itinerary& itinerary) const;
  /// Everybody's turns as `order` says, `changed` having `instead`; nothing if the counts differ.
  [[nodiscard]] std::optional<std::vector<Books>> by_order(const Order& order, CartIx changed,
                                                           const Itinerary& instead) const;
  void assert_holdings(CartIx cart) const;

  const floor::Track* track_;
  std::vector<Cart> carts_;
  std::vector<std::vector<CartIx>> holders_;  // piece -> carts holding it; one unless in doubt
  std::vector<std::vector<Entry>> uses_;      // pose -> steps of known carts that use it
  std::vector<CartIx> changed_;
  std::vector<CartIx> replanned_;
  int plans_since_check_{0};
};

}  // namespace tagline::traffic
