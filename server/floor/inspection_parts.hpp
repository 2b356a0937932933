// The parts of the inspection, each in a file of its own, and what they share.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "server/floor/inspection.hpp"

namespace tagline::floor {

// ---- parts. `used`: poses between which carts go to and fro, the main_set() of all places.

void inspect_ways(const Track& track, std::vector<Finding>& findings);
void inspect_tags(const Track& track, std::vector<Finding>& findings);
void inspect_forks(const Track& track, const std::vector<bool>& used,
                   std::vector<Finding>& findings);
void inspect_rests(const Track& track, std::vector<Finding>& findings);
void inspect_stretches(const Track& track, const std::vector<bool>& used,
                       std::vector<Finding>& findings);
void inspect_merges(const Track& track, const std::vector<bool>& used,
                    const std::vector<Merge>& merges, const std::vector<Crossing>& crossings,
                    std::vector<Finding>& findings);

// ---- shared

/// A point at which a cart has something to do: one or more stations, a siding, a charger.
struct Place {
  PointIx point;
  std::vector<StationIx> stations;
  bool siding{false};
  bool charger{false};
};
std::vector<Place> places_of(const Floor& floor);

/// "station KILN (Biscuit kiln) at P36", "siding B1", "charger C1 at B1".
std::string describe(const Floor& floor, const Place& place);
/// The ids of the stations there, or of the point.
std::string short_name(const Floor& floor, const Place& place);

/// The poses between which a cart can go to and fro: of all such sets the one that has most
/// places. `open`: poses that may be used. Strongly connected components after R. Tarjan,
/// "Depth-first search and linear graph algorithms", SIAM J. Comput. 1 (1972), by Boost.Graph.
std::vector<bool> main_set(const Ways& ways, const std::vector<Place>& places,
                           const std::function<bool(PoseIx)>& open);
bool any_of_place(const Ways& ways, const Place& place, const std::vector<bool>& poses);

/// All poses that can be reached from `from`, or from which `from` can be reached.
std::vector<bool> reached_from(const Ways& ways, const std::vector<bool>& from);
std::vector<bool> leading_to(const Ways& ways, const std::vector<bool>& to);

/// "1200 mm", "12.3 m".
std::string text(Mm length);
/// "A, B and 3 more".
std::string listed(const std::vector<std::string>& names, std::size_t most = 6);
/// "1 other place", "3 other places".
std::string counted(std::size_t count, const std::string& what);
/// The middle of the segment's tape.
Position middle_of(const Floor& floor, SegmentIx segment);

inline constexpr const char* no_source = "common practice, no source";

}  // namespace tagline::floor
