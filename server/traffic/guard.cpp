// See guard.hpp.
#include "server/traffic/guard.hpp"

#include <algorithm>
#include <limits>
#include <stdexcept>
#include <utility>

namespace tagline::traffic {

using Kind = Obstacle::Kind;

namespace {

/// A moment in the sequence of all advances: that of a rank of a cart, the start, or never.
struct Moment {
  Rank rank{};
  std::uint32_t cart{};
  auto operator<=>(const Moment&) const = default;
};
constexpr Moment start{std::numeric_limits<Rank>::min(), 0};
constexpr Moment never{std::numeric_limits<Rank>::max(), std::numeric_limits<std::uint32_t>::max()};

/// When `cart` comes into the pose of its step `i`, and when it leaves it.
Moment enters(CartIx cart, const Itinerary& itinerary, std::span<const Rank> ranks, std::size_t i) {
  return i <= itinerary.authority ? start : Moment{ranks[i], cart.value};
}
Moment leaves(CartIx cart, const Itinerary& itinerary, std::span<const Rank> ranks, std::size_t i) {
  return i + 1 < itinerary.steps.size() ? enters(cart, itinerary, ranks, i + 1) : never;
}

}  // namespace

Guard::Guard(const floor::Track& track, std::size_t carts)
    : track_(&track),
      carts_(carts),
      holders_(track.piece_count()),
      uses_(track.ways().pose_count()) {
  for (Cart& cart : carts_) cart.holds.assign(track.piece_count(), 0);
}

// ---- proposals -------------------------------------------------------------------------------

std::optional<Obstacle> Guard::place(CartIx cart, Itinerary itinerary, const Order& order) {
  Cart& state = carts_[cart.value];
  if (state.itinerary || !well_formed(itinerary)) return Obstacle{Kind::malformed, {}, {}};
  // Only known carts stand in the way here: a cart in doubt holds more than it is on, and it is
  // the evidence for this cart that makes the guess about the other one smaller, not larger.
  // Whoever acts on a person's word alone asks obstacle() first, which counts doubt as occupied.
  for (std::size_t i = 0; i <= itinerary.authority; ++i) {
    for (std::uint32_t other = 0; other < carts_.size(); ++other) {
      if (other == cart.value || !carts_[other].itinerary) continue;
      for (const PieceIx piece : track_->cover(itinerary.steps[i])) {
        const auto held = [&](PieceIx p) { return carts_[other].holds[p.value] > 0; };
        if (held(piece) || std::ranges::any_of(track_->conflicts(piece), held)) {
          return Obstacle{Kind::held, piece, {other}};
        }
      }
    }
  }
  const std::size_t authority = itinerary.authority;
  const std::vector<PoseIx> steps = itinerary.steps;
  auto next = by_order(order, cart, itinerary);
  if (!next || !adopt(std::move(*next))) return Obstacle{Kind::no_way_out, {}, {}};
  release_all(cart);
  state.doubt = false;
  for (std::size_t i = 0; i <= authority; ++i) hold(cart, track_->cover(steps[i]));
  return {};
}

std::optional<Obstacle> Guard::replan(std::span<const Change> changes) {
  std::vector<Books> next;
  next.reserve(changes.size());
  for (const Change& change : changes) {
    const Cart& state = carts_[change.cart.value];
    if (!state.itinerary || change.ranks.size() != change.tail.size() ||
        std::ranges::adjacent_find(change.ranks, std::ranges::greater_equal{}) !=
            change.ranks.end()) {
      return Obstacle{Kind::malformed, {}, {}};
    }
    Books books{change.cart, *state.itinerary, state.ranks};
    const std::size_t kept = books.itinerary.authority + 1;
    const bool same =
        std::ranges::equal(change.tail, std::span(books.itinerary.steps).subspan(kept));
    books.itinerary.steps.resize(kept);
    books.itinerary.steps.insert(books.itinerary.steps.end(), change.tail.begin(),
                                 change.tail.end());
    books.ranks.resize(kept);
    books.ranks.insert(books.ranks.end(), change.ranks.begin(), change.ranks.end());
    if (!same && !well_formed(books.itinerary)) return Obstacle{Kind::malformed, {}, {}};
    next.push_back(std::move(books));
  }
  if (!adopt(std::move(next))) return Obstacle{Kind::no_way_out, {}, {}};
  return {};
}

std::optional<Obstacle> Guard::reroute(CartIx cart, std::span<const PoseIx> tail,
                                       const Order& order) {
  const auto& itinerary = carts_[cart.value].itinerary;
  if (!itinerary) return Obstacle{Kind::malformed, {}, {}};
  Itinerary instead = *itinerary;
  instead.steps.resize(instead.authority + 1);
  instead.steps.insert(instead.steps.end(), tail.begin(), tail.end());
  if (!well_formed(instead)) return Obstacle{Kind::malformed, {}, {}};
  auto next = by_order(order, cart, instead);
  if (!next || !adopt(std::move(*next))) return Obstacle{Kind::no_way_out, {}, {}};
  return {};
}

std::optional<Obstacle> Guard::obstacle_to_step(CartIx cart, std::size_t i) const {
  const Cart& state = carts_[cart.value];
  const Itinerary& mine = *state.itinerary;
  if (const auto found = obstacle(cart, track_->cover(mine.steps[i]))) return found;
  // Granting it is advancing now, before everybody else: nobody who would come before it in the
  // sequence may need a pose that clashes.
  const Moment mine_in{state.ranks[i], cart.value};
  std::optional<Obstacle> first;
  Moment earliest = mine_in;
  for_each_rival(cart, mine.steps[i], [&](Use use) {
    const Cart& other = carts_[use.cart.value];
    if (use.step < other.itinerary->authority) return;  // what it still holds of it was looked at
    const Moment in = enters(use.cart, *other.itinerary, other.ranks, use.step);
    if (in >= earliest) return;
    earliest = in;
    first = Obstacle{Kind::turn, track_->piece(track_->ways()[mine.steps[i]].at), use.cart};
  });
  return first;
}

std::optional<Obstacle> Guard::grant(CartIx cart, std::size_t count) {
  Cart& state = carts_[cart.value];
  if (!state.itinerary || count > state.itinerary->ahead()) {
    return Obstacle{Kind::malformed, {}, {}};
  }
  Itinerary& mine = *state.itinerary;
  for (std::size_t i = 1; i <= count; ++i) {
    if (const auto found = obstacle_to_step(cart, mine.authority + i)) return found;
  }
  for (std::size_t i = 1; i <= count; ++i) {
    hold(cart, track_->cover(mine.steps[mine.authority + i]));
  }
  mine.authority += count;
  note_change(cart);
  return {};
}

std::optional<Obstacle> Guard::grant(CartIx cart, std::size_t count, const Order& order) {
  const Cart& state = carts_[cart.value];
  if (!state.itinerary || count > state.itinerary->ahead()) {
    return Obstacle{Kind::malformed, {}, {}};
  }
  Itinerary ahead = *state.itinerary;
  for (std::size_t i = 1; i <= count; ++i) {
    const auto cover = track_->cover(ahead.steps[ahead.authority + i]);
    if (const auto found = obstacle(cart, cover)) return found;
  }
  const std::size_t first = ahead.authority + 1;
  ahead.authority += count;
  auto next = by_order(order, cart, ahead);
  if (!next || !adopt(std::move(*next))) return Obstacle{Kind::no_way_out, {}, {}};
  for (std::size_t i = first; i <= ahead.authority; ++i) {
    hold(cart, track_->cover(ahead.steps[i]));
  }
  return {};
}

// ---- facts -----------------------------------------------------------------------------------

void Guard::passed(CartIx cart, std::size_t count) {
  Cart& state = carts_[cart.value];
  if (!state.itinerary || count > state.itinerary->authority) {
    throw std::logic_error("guard: a cart passed a point beyond its authority (I2)");
  }
  if (count == 0) return;
  Itinerary& itinerary = *state.itinerary;
  for (std::size_t i = 0; i < count; ++i) release(cart, track_->cover(itinerary.steps[i]));
  strike_uses(cart, 0, count - 1);
  const auto gone = static_cast<std::ptrdiff_t>(count);
  itinerary.steps.erase(itinerary.steps.begin(), itinerary.steps.begin() + gone);
  state.ranks.erase(state.ranks.begin(), state.ranks.begin() + gone);
  itinerary.authority -= count;
  state.base += count;
  note_change(cart);
}

void Guard::lost(CartIx cart, std::span<const PieceIx> pieces) {
  Cart& state = carts_[cart.value];
  // Without this cart's advances the rest of the sequence still runs: one fewer is in the way.
  if (state.itinerary) strike_uses(cart, 0, state.itinerary->steps.size() - 1);
  state.itinerary.reset();
  state.ranks.clear();
  state.doubt = true;
  hold(cart, pieces);
  note_change(cart);
}

void Guard::remove(CartIx cart) {
  Cart& state = carts_[cart.value];
  if (state.itinerary) strike_uses(cart, 0, state.itinerary->steps.size() - 1);
  release_all(cart);
  state.itinerary.reset();
  state.ranks.clear();
  state.doubt = false;
  note_change(cart);
}

// ---- books -----------------------------------------------------------------------------------

bool Guard::in_doubt(CartIx cart) const { return carts_[cart.value].doubt; }

std::vector<PieceIx> Guard::holdings(CartIx cart) const {
  std::vector<PieceIx> pieces = carts_[cart.value].held;
  std::ranges::sort(pieces);
  return pieces;
}

Order Guard::order() const {
  std::vector<Moment> turns;
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    const auto& itinerary = carts_[i].itinerary;
    if (!itinerary) continue;
    for (std::size_t s = itinerary->authority + 1; s < itinerary->steps.size(); ++s) {
      turns.push_back({carts_[i].ranks[s], i});
    }
  }
  std::ranges::sort(turns);
  Order order;
  order.reserve(turns.size());
  for (const Moment& turn : turns) order.push_back({turn.cart});
  return order;
}

std::vector<CartIx> Guard::take_replanned() { return std::exchange(replanned_, {}); }

std::vector<Use> Guard::uses(PoseIx pose) const {
  std::vector<Use> result;
  for (const Entry& entry : uses_[pose.value]) {
    result.push_back({entry.cart, entry.number - carts_[entry.cart.value].base});
  }
  return result;
}

std::optional<Obstacle> Guard::obstacle(CartIx cart, std::span<const PieceIx> pieces) const {
  const auto other_holder = [&](PieceIx piece) -> std::optional<CartIx> {
    for (const CartIx holder : holders_[piece.value]) {
      if (holder != cart) return holder;
    }
    return {};
  };
  for (const PieceIx piece : pieces) {
    if (const auto by = other_holder(piece)) return Obstacle{Kind::held, piece, *by};
    for (const PieceIx rival : track_->conflicts(piece)) {
      if (const auto by = other_holder(rival)) return Obstacle{Kind::held, piece, *by};
    }
  }
  return {};
}

// ---- parts -----------------------------------------------------------------------------------

std::optional<std::vector<Guard::Books>> Guard::by_order(const Order& order, CartIx changed,
                                                         const Itinerary& instead) const {
  std::vector<Books> next;
  std::vector<std::size_t> at(carts_.size(), carts_.size());
  for (std::uint32_t i = 0; i < carts_.size(); ++i) {
    const Itinerary* itinerary = CartIx{i} == changed ? &instead : this->itinerary({i});
    if (itinerary == nullptr) continue;
    at[i] = next.size();
    next.push_back({{i}, *itinerary, std::vector<Rank>(itinerary->authority + 1, 0)});
  }
  for (std::size_t turn = 0; turn < order.size(); ++turn) {
    const std::size_t place = order[turn].value < at.size() ? at[order[turn].value] : next.size();
    if (place >= next.size()) return {};
    next[place].ranks.push_back(static_cast<Rank>(turn));
  }
  for (const Books& books : next) {
    if (books.ranks.size() != books.itinerary.steps.size()) return {};
  }
  return next;
}

bool Guard::adopt(std::vector<Books> next) {
  const auto exchange = [&] {
    for (Books& books : next) {
      Cart& cart = carts_[books.cart.value];
      if (cart.itinerary) strike_uses(books.cart, 0, cart.itinerary->steps.size() - 1);
      Itinerary old = cart.itinerary ? std::move(*cart.itinerary) : Itinerary{};
      if (books.itinerary.steps.empty()) {
        cart.itinerary.reset();
      } else {
        cart.itinerary = std::move(books.itinerary);
      }
      books.itinerary = std::move(old);
      std::swap(cart.ranks, books.ranks);
      if (cart.itinerary) enter_uses(books.cart);
    }
  };
  exchange();
  if (!std::ranges::all_of(next, [&](const Books& books) { return in_turn(books.cart); })) {
    exchange();
    return false;
  }
  for (const Books& books : next) {
    note_change(books.cart);
    if (std::ranges::find(replanned_, books.cart) == replanned_.end()) {
      replanned_.push_back(books.cart);
    }
  }
  ++plans_since_check_;
  return true;
}

bool Guard::in_turn(CartIx cart) const {
  const Cart& mine = carts_[cart.value];
  const Itinerary& itinerary = *mine.itinerary;
  for (std::size_t i = itinerary.authority; i < itinerary.steps.size(); ++i) {
    const Moment in = enters(cart, itinerary, mine.ranks, i);
    const Moment out = leaves(cart, itinerary, mine.ranks, i);
    bool apart = true;
    for_each_rival(cart, itinerary.steps[i], [&](Use use) {
      const Cart& other = carts_[use.cart.value];
      if (use.step < other.itinerary->authority) return;
      apart = apart && (out <= enters(use.cart, *other.itinerary, other.ranks, use.step) ||
                        leaves(use.cart, *other.itinerary, other.ranks, use.step) <= in);
    });
    if (!apart) return false;
  }
  return true;
}

void Guard::hold(CartIx cart, std::span<const PieceIx> pieces) {
  for (const PieceIx piece : pieces) {
    if (carts_[cart.value].holds[piece.value]++ > 0) continue;
    carts_[cart.value].held.push_back(piece);
    holders_[piece.value].push_back(cart);
  }
}

void Guard::release(CartIx cart, std::span<const PieceIx> pieces) {
  for (const PieceIx piece : pieces) {
    if (--carts_[cart.value].holds[piece.value] > 0) continue;
    std::erase(carts_[cart.value].held, piece);
    std::erase(holders_[piece.value], cart);
  }
}

void Guard::release_all(CartIx cart) {
  Cart& state = carts_[cart.value];
  for (const PieceIx piece : state.held) {
    std::erase(holders_[piece.value], cart);
    state.holds[piece.value] = 0;
  }
  state.held.clear();
}

void Guard::enter_uses(CartIx cart) {
  const Cart& state = carts_[cart.value];
  for (std::size_t i = 0; i < state.itinerary->steps.size(); ++i) {
    uses_[state.itinerary->steps[i].value].push_back({cart, state.base + i});
  }
}

void Guard::strike_uses(CartIx cart, std::size_t first, std::size_t last) {
  const Cart& state = carts_[cart.value];
  for (std::size_t i = first; i <= last; ++i) {
    std::erase_if(uses_[state.itinerary->steps[i].value], [&](const Entry& entry) {
      return entry.cart == cart && entry.number == state.base + i;
    });
  }
}

void Guard::note_change(CartIx cart) {
  Cart& state = carts_[cart.value];
  if (state.changed) return;
  state.changed = true;
  changed_.push_back(cart);
}

bool Guard::well_formed(const Itinerary& itinerary) const {
  if (itinerary.steps.empty() || itinerary.authority >= itinerary.steps.size()) return false;
  for (std::size_t i = 1; i < itinerary.steps.size(); ++i) {
    if (track_->ways().find_move(itinerary.steps[i - 1], itinerary.steps[i]) == nullptr) {
      return false;
    }
  }
  return true;
}

}  // namespace tagline::traffic
