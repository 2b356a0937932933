// See fleet_audit.hpp.
#include "server/sim/fleet_audit.hpp"

#include <algorithm>

#include "server/sim/fleet_figures.hpp"

namespace tagline::sim {

std::vector<std::string> audit_books(const floor::Track& track, const control::Core& core,
                                     const std::vector<FleetCart>& carts, double now) {
  std::vector<std::string> wrong;
  const floor::Ways& ways = track.ways();
  constexpr std::uint32_t nobody = 0xFFFFFFFF;
  std::vector<std::uint32_t> owner(track.piece_count(), nobody);
  for (std::uint32_t i = 0; i < carts.size(); ++i) {
    const control::CartView view = core.cart({i});
    if (view.mode == control::CartMode::off_floor) continue;
    const auto holds = [&](PieceIx piece) { return std::ranges::binary_search(view.holds, piece); };
    // The tape under the body. A reader less than the slack beyond a point counts as being there.
    const double x = carts[i].reader(now);
    const auto [first, last] = carts[i].walk().under(x);
    for (const TapeWalk::Leg* leg = first; leg <= last; ++leg) {
      if (!leg->pose) continue;
      const bool barely =
          leg == last && x - leg->start <= static_cast<double>(floor::stop_slack.value);
      const PieceIx segment = track.piece(ways[*leg->pose].by);
      if (!barely && !holds(segment)) {
        wrong.push_back(core.cart_name({i}) + " lies on " + track.name(segment) +
                        ", which it does not hold");
      }
      const PieceIx point = track.piece(ways[*leg->pose].at);
      if (leg->end() <= x && !holds(point)) {
        wrong.push_back(core.cart_name({i}) + " lies on " + track.name(point) +
                        ", which it does not hold");
      }
    }
    if (view.mode == control::CartMode::in_doubt) continue;
    for (const PieceIx piece : view.holds) {
      const auto clash = [&](PieceIx other) {
        const std::uint32_t by = owner[other.value];
        if (by == nobody || by == i) return;
        wrong.push_back(core.cart_name({by}) + " holds " + track.name(other) + " and " +
                        core.cart_name({i}) + " holds " + track.name(piece) +
                        ", which must not be held at once");
      };
      clash(piece);
      for (const PieceIx other : track.conflicts(piece)) clash(other);
    }
    for (const PieceIx piece : view.holds) owner[piece.value] = i;
  }
  return wrong;
}

}  // namespace tagline::sim
