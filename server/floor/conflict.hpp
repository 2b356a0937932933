// Which pieces of track two carts may not have at once: the conflicts of track.hpp.
#pragma once

#include <vector>

#include "server/floor/ways.hpp"

namespace tagline::floor {

/// Per piece, sorted, without itself: the pieces in conflict with it. `covers` as of find_covers.
///
/// Every situation of a cart (driving a move, turning before it, standing in a pose) has the floor
/// space it sweeps, the pieces it holds meanwhile, and one main piece: the segment driven, else
/// the point. Two situations whose spaces are closer than the clearance, and whose pieces are
/// neither shared nor in conflict already, make a conflict of their main pieces. Standing is looked
/// at first: a conflict of points also keeps apart all who drive by them, and points are held
/// shorter than the segments to them, so that less track is kept free for nobody.
std::vector<std::vector<PieceIx>> find_conflicts(const Ways& ways,
                                                 const std::vector<std::vector<PieceIx>>& covers,
                                                 Mm slack);

}  // namespace tagline::floor
