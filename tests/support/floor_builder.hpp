// Small floors for tests, written the way one would draw them:
//
//   const Floor floor = FloorBuilder{}
//                           .point("A", 0, 0)
//                           .point("B", 2000, 0).siding()
//                           .segment("S1", "A", "B").two_way()
//                           .station("CAST", "A")
//                           .build();
//
// A modifier (siding, two_way, ...) applies to the last point, segment or station named. Every
// point gets a tag of its own. Mistakes in a test's floor throw std::invalid_argument.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <initializer_list>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::test {

class FloorBuilder {
 public:
  /// A cart 600 x 400 mm, reader 100 mm behind the nose, 400 mm/s, clearance 100 mm.
  FloorBuilder() {
    floor_.name = "Test floor";
    floor_.cart.length = Mm{600};
    floor_.cart.width = Mm{400};
    floor_.cart.reader_to_nose = Mm{100};
  }

  FloorBuilder& name(std::string name) {
    floor_.name = std::move(name);
    return *this;
  }

  // ---- the cart
  FloorBuilder& cart(std::int64_t length, std::int64_t width, std::int64_t reader_to_nose = 100) {
    floor_.cart.length = Mm{length};
    floor_.cart.width = Mm{width};
    floor_.cart.reader_to_nose = Mm{reader_to_nose};
    return *this;
  }
  FloorBuilder& clearance(std::int64_t mm) {
    floor_.cart.clearance = Mm{mm};
    return *this;
  }
  FloorBuilder& cart_speed(std::int64_t mm_per_s) {
    floor_.cart.speed = MmPerS{mm_per_s};
    return *this;
  }

  // ---- points
  FloorBuilder& point(std::string id, double x, double y) {
    if (floor_.points.size() >= 0xFFFFFF) throw std::invalid_argument("too many points");
    char tag[9];
    // The first byte of a UID of 4 bytes tells the maker; 04 is as good as any for a test.
    std::snprintf(tag, sizeof tag, "04%06X", static_cast<unsigned>(floor_.points.size() + 1));
    floor_.points.push_back({std::move(id), {x, y}, {tag}, false, false});
    return *this;
  }
  FloorBuilder& siding() {
    last(floor_.points, "siding").siding = true;
    return *this;
  }
  FloorBuilder& turn_round() {
    last(floor_.points, "turn_round").turn_round = true;
    return *this;
  }
  /// One more tag for the last point.
  FloorBuilder& tag(std::string uid) {
    last(floor_.points, "tag").tags.push_back(std::move(uid));
    return *this;
  }
  /// The last point can't be seen.
  FloorBuilder& without_tags() {
    last(floor_.points, "without_tags").tags.clear();
    return *this;
  }

  // ---- segments
  FloorBuilder& segment(std::string id, std::string_view from, std::string_view to) {
    floor_.segments.push_back(
        {std::move(id), point_at(from), point_at(to), Mm{0}, MmPerS{0}, false, false, {}, {}});
    return *this;
  }
  FloorBuilder& two_way() {
    last(floor_.segments, "two_way").two_way = true;
    return *this;
  }
  FloorBuilder& spur() {
    last(floor_.segments, "spur").spur = true;
    return *this;
  }
  FloorBuilder& via(std::initializer_list<floor::Position> corners) {
    last(floor_.segments, "via").via = corners;
    return *this;
  }
  /// Driven length, if not that of the drawing.
  FloorBuilder& length(std::int64_t mm) {
    last(floor_.segments, "length").length = Mm{mm};
    return *this;
  }
  /// Speed limit, if lower than the cart's.
  FloorBuilder& speed(std::int64_t mm_per_s) {
    last(floor_.segments, "speed").speed = MmPerS{mm_per_s};
    return *this;
  }
  FloorBuilder& turn(floor::Branch branch) {
    last(floor_.segments, "turn").turn = branch;
    return *this;
  }

  // ---- stations, chargers, the rest
  /// Name as the id, 15 s to load and unload, no limit of capacity.
  FloorBuilder& station(std::string id, std::string_view point) {
    std::string name = id;
    floor_.stations.push_back(
        {std::move(id), std::move(name), point_at(point), Duration{15'000}, Duration{15'000}, {}});
    return *this;
  }
  FloorBuilder& handling(Duration load, Duration unload) {
    last(floor_.stations, "handling").load = load;
    last(floor_.stations, "handling").unload = unload;
    return *this;
  }
  FloorBuilder& capacity(int loads) {
    last(floor_.stations, "capacity").capacity = loads;
    return *this;
  }
  FloorBuilder& charger(std::string id, std::string_view point) {
    floor_.chargers.push_back({std::move(id), point_at(point)});
    return *this;
  }
  FloorBuilder& conflict(std::string_view a, std::string_view b) {
    floor_.conflicts.emplace_back(segment_at(a), segment_at(b));
    return *this;
  }
  FloorBuilder& demand(std::string_view from, std::string_view to, double per_hour) {
    floor_.demand.push_back({station_at(from), station_at(to), per_hour});
    return *this;
  }

  [[nodiscard]] floor::Floor build() const {
    floor::Floor result = floor_;
    for (floor::Segment& segment : result.segments) {
      if (segment.speed == MmPerS{0}) segment.speed = result.cart.speed;
      if (segment.length == Mm{0}) segment.length = drawn_length(result, segment);
    }
    return result;
  }

  /// Index of a thing by its id, in this builder and in every floor built from it.
  [[nodiscard]] PointIx point_at(std::string_view id) const {
    return {find(floor_.points, id, "point")};
  }
  [[nodiscard]] SegmentIx segment_at(std::string_view id) const {
    return {find(floor_.segments, id, "segment")};
  }
  [[nodiscard]] StationIx station_at(std::string_view id) const {
    return {find(floor_.stations, id, "station")};
  }

 private:
  template <class Thing>
  static Thing& last(std::vector<Thing>& things, const char* what) {
    if (things.empty()) throw std::invalid_argument(std::string{what} + ": nothing to apply it to");
    return things.back();
  }
  template <class Thing>
  static std::uint32_t find(const std::vector<Thing>& things, std::string_view id,
                            const char* kind) {
    const auto found = std::find_if(things.begin(), things.end(),
                                    [&](const Thing& thing) { return thing.id == id; });
    if (found == things.end()) {
      throw std::invalid_argument("no " + std::string{kind} + " \"" + std::string{id} + "\"");
    }
    return static_cast<std::uint32_t>(found - things.begin());
  }
  static Mm drawn_length(const floor::Floor& floor, const floor::Segment& segment) {
    double sum = 0;
    floor::Position at = floor[segment.from].at;
    const auto go_to = [&](floor::Position next) {
      sum += std::hypot(next.x - at.x, next.y - at.y);
      at = next;
    };
    for (const floor::Position& corner : segment.via) go_to(corner);
    go_to(floor[segment.to].at);
    return Mm{std::max<std::int64_t>(1, std::llround(sum))};
  }

  floor::Floor floor_;
};

}  // namespace tagline::test
