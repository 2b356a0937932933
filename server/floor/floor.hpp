// The floor as described in a floor file: plain, checked data. Built by file.hpp (or by a test).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/floor/ids.hpp"
#include "server/floor/units.hpp"

namespace tagline::floor {

/// A place on the floor plan, mm; x to the right, y up.
struct Position {
  double x{};
  double y{};
  bool operator==(const Position&) const = default;
};

/// Body of the largest cart and limits of the slowest one: every cart of the fleet fits in it.
struct CartBody {
  Mm length;
  Mm width;
  /// How far the tag reader sits behind the nose.
  Mm reader_to_nose{0};
  MmPerS speed{400};
  MmPerS2 acceleration{300};
  MmPerS2 deceleration{600};
  /// Free space wanted round a body beside another.
  Mm clearance{100};
};

struct Point {
  std::string id;
  Position at;
  /// UIDs of the tags that mark this point, upper-case hex, no separators.
  std::vector<std::string> tags;
  bool siding{false};
  bool turn_round{false};
};

/// Which way to go at a fork.
enum class Branch { left, straight, right };

struct Segment {
  std::string id;
  PointIx from;
  PointIx to;
  /// Driven length; > 0.
  Mm length;
  /// Limit here; > 0 and never above CartBody::speed.
  MmPerS speed;
  bool two_way{false};
  bool spur{false};
  std::vector<Position> via;
  std::optional<Branch> turn;
};

struct Station {
  /// The most that a capacity, or a count of what stands there, can be.
  static constexpr int most_loads = 1'000;
  std::string id;
  std::string name;
  PointIx point;
  Duration load{15'000};
  Duration unload{15'000};
  std::optional<int> capacity;
};

struct Charger {
  std::string id;
  PointIx point;
};

/// Track that a person can stop as a whole, such as that of one room.
struct Zone {
  std::string id;
  std::string name;
  std::vector<SegmentIx> segments;  // each once
};

/// Usual flow between two stations, for planning and simulation.
struct Demand {
  StationIx from;
  StationIx to;
  double per_hour{};
};

/// One whole floor. Invariant (kept by the loader): every index is valid, ids are unique per
/// kind, tags are unique on the floor, lengths and speeds are positive and of a sane size.
struct Floor {
  std::string name;
  CartBody cart;
  std::vector<Point> points;
  std::vector<Segment> segments;
  std::vector<Station> stations;
  std::vector<Charger> chargers;
  /// Pairs of segments that must not be used at once, beyond those found from the geometry.
  std::vector<std::pair<SegmentIx, SegmentIx>> conflicts;
  std::vector<Demand> demand;
  std::vector<Zone> zones;

  [[nodiscard]] const Point& operator[](PointIx ix) const { return points[ix.value]; }
  [[nodiscard]] const Segment& operator[](SegmentIx ix) const { return segments[ix.value]; }
  [[nodiscard]] const Station& operator[](StationIx ix) const { return stations[ix.value]; }
  [[nodiscard]] const Charger& operator[](ChargerIx ix) const { return chargers[ix.value]; }
  [[nodiscard]] const Zone& operator[](ZoneIx ix) const { return zones[ix.value]; }

  [[nodiscard]] std::optional<PointIx> find_point(std::string_view id) const;
  [[nodiscard]] std::optional<SegmentIx> find_segment(std::string_view id) const;
  [[nodiscard]] std::optional<StationIx> find_station(std::string_view id) const;
  [[nodiscard]] std::optional<ZoneIx> find_zone(std::string_view id) const;
  /// The point marked by tag `uid` (upper-case hex), or nothing for a tag the floor doesn't know.
  [[nodiscard]] std::optional<PointIx> find_tag(std::string_view uid) const;
  [[nodiscard]] bool has_charger(PointIx point) const;
};

}  // namespace tagline::floor
