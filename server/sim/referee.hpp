// Knows only where bodies are, and says whether two of them touch. Its geometry is its own: it
// shares nothing with the geometry and the bookkeeping by which the service keeps carts apart, so
// that one mistake can't hide in both.
#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <limits>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::sim {

/// A cart's body seen from above, mm: a rectangle round `centre`, `along` is the unit vector to
/// the nose.
struct Rectangle {
  floor::Position centre;
  floor::Position along{1, 0};
  double length{};
  double width{};
  /// Nose left, tail left, tail right, nose right.
  [[nodiscard]] std::array<floor::Position, 4> corners() const;
};

/// Free space between two rectangles, mm; 0 when they touch or overlap. Overlap by the separating
/// axis theorem; the distance of disjoint ones is the least from a corner to an edge.
double free_space(const Rectangle& a, const Rectangle& b);

/// One body and what to call it.
struct SeenBody {
  std::string_view cart;
  Rectangle body;
};

class Referee {
 public:
  /// Looks at all pairs once. Gives the pairs (places in `bodies`) that have newly come to touch.
  std::vector<std::pair<std::size_t, std::size_t>> look(std::chrono::milliseconds now,
                                                        const std::vector<SeenBody>& bodies);

  /// Times two bodies came to touch (a pair that stays in touch counts once).
  [[nodiscard]] std::uint64_t contacts() const { return contacts_; }
  /// Least free space ever seen between two bodies, mm; infinity before two were seen.
  [[nodiscard]] double least_gap() const { return least_gap_; }
  /// Where and when the first contact was, one line; "" while there is none.
  [[nodiscard]] const std::string& first_contact() const { return first_contact_; }
  /// Where and when the least gap was seen; "" before two bodies were seen.
  [[nodiscard]] const std::string& least_gap_at() const { return least_gap_at_; }

 private:
  std::uint64_t contacts_{0};
  double least_gap_{std::numeric_limits<double>::infinity()};
  std::string first_contact_, least_gap_at_;
  std::set<std::pair<std::string, std::string>> touching_;
};

}  // namespace tagline::sim
