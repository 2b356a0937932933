// The small floor and the comparisons that the floor file tests share.
#include "support.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <iterator>
#include <set>

namespace tagline::floor::testing {

Json small_floor() {
  return Json::parse(R"({
    "format": "tagline-floor/1",
    "name": "Small works",
    "cart": {"length": 600, "width": 400},
    "points": [
      {"id": "A", "x": 0, "y": 0, "tags": ["04A1B2C3", "1122334455"]},
      {"id": "B", "x": 4000, "y": 0, "tags": ["04A1B2C3D4E5F6"]},
      {"id": "C", "x": 4000, "y": 3000.5, "tags": ["E004010203040506"], "siding": true},
      {"id": "D", "x": 0, "y": 3000, "tags": ["04112233445566778899"]},
      {"id": "T", "x": -3000, "y": 0, "tags": ["04A1B2C4"], "turn_round": true},
      {"id": "K", "x": 4000, "y": -2000, "tags": ["04A1B2C5"]},
      {"id": "L", "x": 4000, "y": -4000, "tags": ["04A1B2C6"]}
    ],
    "segments": [
      {"id": "S1", "from": "A", "to": "B"},
      {"id": "S2", "from": "B", "to": "C", "speed": 300, "turn": "left"},
      {"id": "S3", "from": "C", "to": "D", "length": 4100},
      {"id": "S4", "from": "D", "to": "A", "via": [[-200, 1500], [-100, 500.25]]},
      {"id": "S5", "from": "A", "to": "T", "two_way": true},
      {"id": "S6", "from": "B", "to": "K", "spur": true},
      {"id": "S7", "from": "K", "to": "L", "spur": true}
    ],
    "stations": [
      {"id": "CAST", "name": "Casting", "point": "T", "load_s": 20.5, "unload_s": 0},
      {"id": "DRY", "name": "Drying", "point": "L", "capacity": 3}
    ],
    "chargers": [{"id": "C1", "point": "C"}],
    "conflicts": [["S1", "S3"]],
    "demand": [{"from": "CAST", "to": "DRY", "per_hour": 2.5}],
    "zones": [{"id": "KILNS", "name": "Kiln room", "segments": ["S6", "S7"]}]
  })");
}

std::vector<FileFinding> findings_in(std::string_view text) {
  auto result = parse_floor(text);
  if (auto* findings = std::get_if<std::vector<FileFinding>>(&result)) return std::move(*findings);
  return {};
}

std::vector<FileFinding> findings_of(const Json& document) { return findings_in(document.dump()); }

Floor floor_in(std::string_view text) {
  auto result = parse_floor(text);
  if (auto* floor = std::get_if<Floor>(&result)) return std::move(*floor);
  for (const FileFinding& finding : std::get<std::vector<FileFinding>>(result)) {
    ADD_FAILURE() << describe("text", finding);
  }
  return {};
}

std::vector<std::string> pointers_of(const std::vector<FileFinding>& findings) {
  std::vector<std::string> pointers;
  for (const FileFinding& finding : findings) pointers.push_back(finding.pointer);
  return pointers;
}

void expect_same(const Floor& a, const Floor& b) {
  EXPECT_EQ(a.name, b.name);
  EXPECT_EQ(a.cart.length, b.cart.length);
  EXPECT_EQ(a.cart.width, b.cart.width);
  EXPECT_EQ(a.cart.reader_to_nose, b.cart.reader_to_nose);
  EXPECT_EQ(a.cart.speed, b.cart.speed);
  EXPECT_EQ(a.cart.acceleration, b.cart.acceleration);
  EXPECT_EQ(a.cart.deceleration, b.cart.deceleration);
  EXPECT_EQ(a.cart.clearance, b.cart.clearance);
  ASSERT_EQ(a.points.size(), b.points.size());
  for (std::size_t k = 0; k < a.points.size(); ++k) {
    SCOPED_TRACE("point " + a.points[k].id);
    EXPECT_EQ(a.points[k].id, b.points[k].id);
    EXPECT_EQ(a.points[k].at, b.points[k].at);
    EXPECT_EQ(a.points[k].tags, b.points[k].tags);
    EXPECT_EQ(a.points[k].siding, b.points[k].siding);
    EXPECT_EQ(a.points[k].turn_round, b.points[k].turn_round);
  }
  ASSERT_EQ(a.segments.size(), b.segments.size());
  for (std::size_t k = 0; k < a.segments.size(); ++k) {
    SCOPED_TRACE("segment " + a.segments[k].id);
    EXPECT_EQ(a.segments[k].id, b.segments[k].id);
    EXPECT_EQ(a.segments[k].from, b.segments[k].from);
    EXPECT_EQ(a.segments[k].to, b.segments[k].to);
    EXPECT_EQ(a.segments[k].length, b.segments[k].length);
    EXPECT_EQ(a.segments[k].speed, b.segments[k].speed);
    EXPECT_EQ(a.segments[k].two_way, b.segments[k].two_way);
    EXPECT_EQ(a.segments[k].spur, b.segments[k].spur);
    EXPECT_EQ(a.segments[k].via, b.segments[k].via);
    EXPECT_EQ(a.segments[k].turn, b.segments[k].turn);
  }
  ASSERT_EQ(a.stations.size(), b.stations.size());
  for (std::size_t k = 0; k < a.stations.size(); ++k) {
    SCOPED_TRACE("station " + a.stations[k].id);
    EXPECT_EQ(a.stations[k].id, b.stations[k].id);
    EXPECT_EQ(a.stations[k].name, b.stations[k].name);
    EXPECT_EQ(a.stations[k].point, b.stations[k].point);
    EXPECT_EQ(a.stations[k].load, b.stations[k].load);
    EXPECT_EQ(a.stations[k].unload, b.stations[k].unload);
    EXPECT_EQ(a.stations[k].capacity, b.stations[k].capacity);
  }
  ASSERT_EQ(a.chargers.size(), b.chargers.size());
  for (std::size_t k = 0; k < a.chargers.size(); ++k) {
    EXPECT_EQ(a.chargers[k].id, b.chargers[k].id);
    EXPECT_EQ(a.chargers[k].point, b.chargers[k].point);
  }
  EXPECT_EQ(a.conflicts, b.conflicts);
  ASSERT_EQ(a.demand.size(), b.demand.size());
  for (std::size_t k = 0; k < a.demand.size(); ++k) {
    EXPECT_EQ(a.demand[k].from, b.demand[k].from);
    EXPECT_EQ(a.demand[k].to, b.demand[k].to);
    EXPECT_EQ(a.demand[k].per_hour, b.demand[k].per_hour);
  }
  ASSERT_EQ(a.zones.size(), b.zones.size());
  for (std::size_t k = 0; k < a.zones.size(); ++k) {
    EXPECT_EQ(a.zones[k].id, b.zones[k].id);
    EXPECT_EQ(a.zones[k].name, b.zones[k].name);
    EXPECT_EQ(a.zones[k].segments, b.zones[k].segments);
  }
}

namespace {

template <class Item>
void expect_unique_ids(const std::vector<Item>& items) {
  std::set<std::string> ids;
  for (const Item& item : items) EXPECT_TRUE(ids.insert(item.id).second) << item.id;
}

}  // namespace

void expect_whole(const Floor& floor) {
  expect_unique_ids(floor.points);
  expect_unique_ids(floor.segments);
  expect_unique_ids(floor.stations);
  expect_unique_ids(floor.chargers);
  EXPECT_GT(floor.cart.length.value, 0);
  EXPECT_GT(floor.cart.width.value, 0);
  EXPECT_GE(floor.cart.reader_to_nose.value, 0);
  EXPECT_LE(floor.cart.reader_to_nose, floor.cart.length);
  EXPECT_GT(floor.cart.speed.value, 0);
  EXPECT_GT(floor.cart.acceleration.value, 0);
  EXPECT_GT(floor.cart.deceleration.value, 0);
  EXPECT_GE(floor.cart.clearance.value, 0);
  std::set<std::string> tags;
  for (const Point& point : floor.points) {
    for (const std::string& tag : point.tags) EXPECT_TRUE(tags.insert(tag).second) << tag;
  }
  const auto points = floor.points.size();
  for (const Segment& segment : floor.segments) {
    SCOPED_TRACE(segment.id);
    EXPECT_LT(segment.from.value, points);
    EXPECT_LT(segment.to.value, points);
    EXPECT_NE(segment.from, segment.to);
    EXPECT_GT(segment.length.value, 0);
    EXPECT_GT(segment.speed.value, 0);
    EXPECT_LE(segment.speed, floor.cart.speed);
    EXPECT_FALSE(segment.spur && segment.two_way);
  }
  for (const Station& station : floor.stations) EXPECT_LT(station.point.value, points);
  for (const Charger& charger : floor.chargers) EXPECT_LT(charger.point.value, points);
  for (const auto& [a, b] : floor.conflicts) {
    EXPECT_LT(a.value, floor.segments.size());
    EXPECT_LT(b.value, floor.segments.size());
    EXPECT_NE(a, b);
  }
  for (const Demand& flow : floor.demand) {
    EXPECT_LT(flow.from.value, floor.stations.size());
    EXPECT_LT(flow.to.value, floor.stations.size());
    EXPECT_NE(flow.from, flow.to);
    EXPECT_GT(flow.per_hour, 0);
  }
  for (const Zone& zone : floor.zones) {
    EXPECT_FALSE(zone.segments.empty());
    for (const SegmentIx segment : zone.segments) EXPECT_LT(segment.value, floor.segments.size());
  }
}

std::string read_file(const std::string& path_in_project) {
  std::ifstream file(std::string(TAGLINE_SOURCE_DIR "/") + path_in_project, std::ios::binary);
  EXPECT_TRUE(file) << path_in_project;
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

}  // namespace tagline::floor::testing
