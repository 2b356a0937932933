// See merge_waits.hpp.
#include "server/sim/merge_waits.hpp"

namespace tagline::sim {

MergeTable::MergeTable(const floor::Track& track) : points_(track) {
  for (const PointIx point : points_.all()) waits_.push_back({point, 0, 0});
}

void MergeTable::add(std::size_t merge, double seconds) {
  ++waits_[merge].waits;
  waits_[merge].seconds += seconds;
}

}  // namespace tagline::sim
