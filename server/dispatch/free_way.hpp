// Least times of driving a free floor from stand to stand, with acceleration and braking: what no
// cart beats. For figures, not for decisions, hence in floating point.
#pragma once

#include <limits>
#include <span>
#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::dispatch {

/// A time that says: there is no way.
inline constexpr double no_way = std::numeric_limits<double>::infinity();

/// Least times, s, over the moves of one floor. Keeps a reference to the ways.
///
/// A leg takes the length of each of its moves over that move's speed, its turns on the spot, and
/// what speed can't be at once: on a move of speed v entered at u the cart drives no faster than
/// sqrt(u^2 + 2 a s) after s mm, which costs
///     (sqrt(u^2 + 2 a X) - u) / a - X / v     with X = min((v^2 - u^2) / 2a, share of the move)
/// and likewise where it is left at a lower speed, with d. `share`, d / (a + d) of the move for
/// the one and a / (a + d) for the other, keeps the two apart where the move is too short for
/// both. u is 0 at a stand (ends, change of gear, turn on the spot), else the lower of the two
/// speeds. Each term is at most what a real drive loses there; on moves at least 267 mm long for
/// the usual 400 mm/s, and for any single move between stands, it is exactly that. Uniformly
/// accelerated motion; search after Dijkstra (1959) over moves.
class FreeWay {
 public:
  explicit FreeWay(const floor::Ways& ways);

  /// Least time from a stand in any pose of `starts` to a stand in each pose. `within` (sorted), if
  /// given: only the time in which a cart must hold one of these poses is counted, and the least of
  /// that is sought. A cart holds both poses of a move while it drives; but the braking at the end
  /// of a move counts only if the end is one of them, because a tag is read a little before it.
  [[nodiscard]] std::vector<double> from(std::span<const PoseIx> starts,
                                         const std::vector<PoseIx>* within = nullptr) const;

 private:
  struct Drive {
    floor::Move move;
    double v{}, length{}, cruise{};  // mm/s, mm, s (with the turn)
  };
  [[nodiscard]] double loss(const Drive& drive, double slow, double rate, double other_rate) const;
  [[nodiscard]] double entering(const Drive& drive, double u) const;
  [[nodiscard]] double leaving(const Drive& drive, double u) const;
  [[nodiscard]] double least_turn(const floor::Move& move) const;

  const floor::Ways* ways_;
  double a_, d_;
  std::vector<Drive> drives_;       // grouped by the pose they start from
  std::vector<std::size_t> first_;  // pose -> first of its drives
};

}  // namespace tagline::dispatch
