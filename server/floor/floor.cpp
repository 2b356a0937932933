// Lookups by textual id. Linear on purpose: a floor is small, it is looked up when a file is read
// or a person asks, and plain data without a hidden index can be built and changed by anyone.
#include "server/floor/floor.hpp"

#include <algorithm>
#include <cstddef>

namespace tagline::floor {
namespace {

template <class Ix, class Item, class Predicate>
std::optional<Ix> find_first(const std::vector<Item>& items, Predicate matches) {
  const auto found = std::find_if(items.begin(), items.end(), matches);
  if (found == items.end()) return std::nullopt;
  return Ix{static_cast<std::uint32_t>(found - items.begin())};
}

}  // namespace

std::optional<PointIx> Floor::find_point(std::string_view id) const {
  return find_first<PointIx>(points, [id](const Point& point) { return point.id == id; });
}

std::optional<SegmentIx> Floor::find_segment(std::string_view id) const {
  return find_first<SegmentIx>(segments, [id](const Segment& segment) { return segment.id == id; });
}

std::optional<StationIx> Floor::find_station(std::string_view id) const {
  return find_first<StationIx>(stations, [id](const Station& station) { return station.id == id; });
}

std::optional<ZoneIx> Floor::find_zone(std::string_view id) const {
  return find_first<ZoneIx>(zones, [id](const Zone& zone) { return zone.id == id; });
}

std::optional<PointIx> Floor::find_tag(std::string_view uid) const {
  return find_first<PointIx>(points, [uid](const Point& point) {
    return std::find(point.tags.begin(), point.tags.end(), uid) != point.tags.end();
  });
}

bool Floor::has_charger(PointIx point) const {
  return std::any_of(chargers.begin(), chargers.end(),
                     [point](const Charger& charger) { return charger.point == point; });
}

}  // namespace tagline::floor
