// Which pieces of track a cart in a pose needs: the covers of track.hpp.
#pragma once

#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::floor {

/// Per pose, sorted, no duplicates: the pose's point and segment, and every point closer than
/// `reach` behind it, over all ways that lead there without turning on the spot, with every
/// segment of those ways. Behind a turn on the spot the way ends: the tail lies on no known tape.
std::vector<std::vector<PieceIx>> find_covers(const Ways& ways, Mm reach);

}  // namespace tagline::floor
