// Where ways come together or cross: how far before it a body starts to foul the other way, and
// where a cart can last wait without being in anybody's way. For people who lay tape; the traffic
// guard needs none of it (its tables are in track.hpp).
#pragma once

#include <optional>
#include <vector>

#include "server/floor/track.hpp"

namespace tagline::floor {

/// The last tagged point before a place where a cart can stand without keeping others from it.
struct WaitingPlace {
  PoseIx pose;
  /// Track between it and the place, mm.
  Mm before;
  /// The tape forks there or between: who waits there keeps back those who would go the other way.
  bool at_fork{false};
};

/// One of the ways into a place.
struct Approach {
  /// At the merge; for a crossing, at the end of the segment that crosses.
  PoseIx pose;
  /// From so far before the place a body here fouls some body on another way in; nothing if it
  /// does so as far back as `foul_search` or as the tape goes.
  std::optional<Mm> foul;
  /// Of several ways back the one with the longest wait; nothing if one of them has none.
  std::optional<WaitingPlace> wait;
};

/// A point at which two or more ways in go on to the same tape (or both end).
struct Merge {
  PointIx point;
  std::vector<Approach> approaches;
};

/// Two tapes without a common end that cut each other.
struct Crossing {
  SegmentIx first, second;
  Position at;
  /// First of the one segment, then of the other; two-way tape has one for each direction.
  std::vector<Approach> approaches;
};

/// How far back fouling is looked for, mm.
inline constexpr double foul_search = 6000;

/// Found by putting bodies down every 10 mm and halving the last step to 0.1 mm: within 1 mm of the
/// true distance on straight tape. At most 32 ways behind each approach are looked at.
/// `used`: poses that carts come to at all (empty: every pose); only a way on to such a one makes
/// a fork.
std::vector<Merge> find_merges(const Track& track, const std::vector<bool>& used = {});
std::vector<Crossing> find_crossings(const Track& track, const std::vector<bool>& used = {});

/// Walks back from `at` to the nearest tagged poses that clash with none of `others`. The worst of
/// all ways back: nothing if one has none.
std::optional<WaitingPlace> last_wait_before(const Track& track, PoseIx at,
                                             const std::vector<PoseIx>& others,
                                             const std::vector<bool>& used = {});

/// Moves a cart at a pose can choose from, driving on: forward, without turning on the spot.
std::vector<Move> moves_on(const Ways& ways, PoseIx pose);

}  // namespace tagline::floor
