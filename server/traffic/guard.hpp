// The traffic guard: who holds which track, and the proof that everybody can still get home.
//
// Small and exact, so that it can be checked by hand. Whatever is proposed, by whomever and in any
// order, the guard accepts it only if these stay true (design.md 2):
//   I1  no two carts hold conflicting track (a cart in doubt may overlap another: what it holds is
//       a guess on the safe side, and nobody is ever granted track that it holds);
//   I2  a cart's authority lies on track it holds;
//   I3  track is given up only by passed(), that is by a tag read, or by a person (remove());
//   I5  `order()` is a complete plan: carts advancing one step at a time in that order all reach
//       the end of their steps, each step being clear when its turn comes.
// So the first cart in `order()` can always be granted its next step once the others have run out
// their authority: carts never lock each other in, by construction. This is deadlock avoidance by
// keeping to safe states (E. W. Dijkstra, "Cooperating sequential processes", EWD 123, 1965; for
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

/// Why a proposal was refused.
struct Obstacle {
  enum class Kind {
    held,        // `piece` is held by, or conflicts with track held by, `by`
    no_way_out,  // the proposal's order doesn't bring everybody to the end
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

class Guard {
 public:
  /// No cart is on the floor. `track` must outlive the guard.
  Guard(const floor::Track& track, std::size_t carts);

  // Proposals. Empty result: accepted. Otherwise nothing has changed.

  /// Cart `cart`, off the floor or in doubt, is known to be on `itinerary`.
  std::optional<Obstacle> place(CartIx cart, Itinerary itinerary, Order order);
  /// Replaces all steps beyond the authority of `cart`.
  std::optional<Obstacle> reroute(CartIx cart, std::span<const PoseIx> tail, Order order);
  /// Lets `cart` go `count` steps further.
  std::optional<Obstacle> grant(CartIx cart, std::size_t count, Order order);

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
  [[nodiscard]] const Itinerary* itinerary(CartIx cart) const;
  [[nodiscard]] bool in_doubt(CartIx cart) const;
  /// Sorted by piece.
  [[nodiscard]] std::vector<PieceIx> holdings(CartIx cart) const;
  [[nodiscard]] const Order& order() const { return order_; }
  /// What keeps `cart` from holding all of `pieces` now; empty if nothing does.
  [[nodiscard]] std::optional<Obstacle> obstacle(CartIx cart,
                                                 std::span<const PieceIx> pieces) const;
  /// Would `order` bring every known cart to its end, if `changed` had `instead`?
  [[nodiscard]] bool completes(const Order& order, CartIx changed, const Itinerary& instead) const;

  /// Recomputes I1, I2 and I5 from nothing and throws std::logic_error if one is broken.
  void assert_invariants() const;

 private:
  struct Cart {
    std::optional<Itinerary> itinerary;
    bool doubt{false};
    std::vector<std::uint32_t> holds;  // piece -> how many reasons to hold it
  };

  void hold(CartIx cart, std::span<const PieceIx> pieces);
  void release(CartIx cart, std::span<const PieceIx> pieces);
  void release_all(CartIx cart);
  [[nodiscard]] bool well_formed(const Itinerary& itinerary) const;

  const floor::Track* track_;
  std::vector<Cart> carts_;
  std::vector<std::vector<CartIx>> holders_;  // piece -> carts holding it; one unless in doubt
  Order order_;
};

}  // namespace tagline::traffic
