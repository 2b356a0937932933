// What the store remembers of the floor, to notice that it was changed between two runs.
#pragma once

#include <string>
#include <string_view>

#include "server/floor/floor.hpp"

namespace tagline::store {

/// Everything on which the meaning of a recorded path rests, one thing a line, sorted by kind and
/// id: body of the cart, points, segments, stations, chargers, conflicts. Not in it, because a
/// cart stays where it is when they change: names, speeds, handling times, capacities, demand,
/// and the order of things in the file.
std::string floor_text(const floor::Floor& floor);

/// "<tag> <point>" a line, sorted.
std::string tag_text(const floor::Floor& floor);

/// What differs, for a person: the first lines gone and come, and how many. "" if nothing does.
std::string floor_difference(std::string_view before, std::string_view after);

/// The first tag that marked one point before and marks another now, in a sentence; "" if there is
/// none. A tag added or taken away (a worn one replaced) is no change of the floor.
std::string moved_tag(std::string_view before, std::string_view after);

}  // namespace tagline::store
