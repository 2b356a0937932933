// A works of rings for measuring the service: one-way loops of tape with evenly spaced tags, beside
// each loop a bay for every cart and, between the bays, stations. On a free way every tag read
// brings its cart new authority, so what is measured is the service and not the traffic.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "server/floor/floor.hpp"

namespace tagline::bench {

struct RingSize {
  std::size_t rings{};
  /// Bays beside each ring. Every eighth place of a ring has a bay; one has a station in every
  /// `bays_per_station` of them.
  std::size_t bays{};
  std::size_t bays_per_station{10};
};

class RingWorks {
 public:
  static constexpr std::int64_t spacing_mm = 2000;

  explicit RingWorks(RingSize size) : size_(size) {
    floor_.name = "Rings " + std::to_string(size.rings) + " x " + std::to_string(size.bays);
    floor_.cart.length = Mm{600};
    floor_.cart.width = Mm{400};
    floor_.cart.reader_to_nose = Mm{100};
    floor_.cart.speed = MmPerS{1000};
    for (std::size_t ring = 0; ring < size.rings; ++ring) add_ring(ring);
  }

  [[nodiscard]] const floor::Floor& floor() const { return floor_; }
  [[nodiscard]] std::string bay(std::size_t ring, std::size_t bay) const {
    return "K" + std::to_string(ring) + "-" + std::to_string(bay);
  }
  /// `station` is taken round the ring.
  [[nodiscard]] std::string station(std::size_t ring, std::size_t station) const {
    return "W" + std::to_string(ring) + "-" + std::to_string(station % stations_per_ring());
  }
  [[nodiscard]] std::size_t stations_per_ring() const {
    return size_.bays / size_.bays_per_station;
  }

 private:
  static constexpr std::size_t points_per_bay = 8;

  PointIx add_point(const std::string& id, double x, double y) {
    static constexpr char digits[] = "0123456789ABCDEF";
    const auto number = static_cast<std::uint32_t>(floor_.points.size() + 1);
    std::string tag = "04";
    for (int shift = 20; shift >= 0; shift -= 4) tag += digits[(number >> shift) & 0xF];
    floor_.points.push_back({id, {x, y}, {tag}, false, false});
    return {number - 1};
  }
  void join(PointIx from, PointIx to, std::int64_t mm) {
    floor_.segments.push_back({.id = "S" + std::to_string(floor_.segments.size()),
                               .from = from,
                               .to = to,
                               .length = Mm{mm},
                               .speed = floor_.cart.speed,
                               .two_way = false,
                               .spur = false,
                               .via = {},
                               .turn = {}});
  }

  /// Out along one lane and back along another, both `spacing_mm` from a point at each end.
  void add_ring(std::size_t ring) {
    constexpr auto step = static_cast<double>(spacing_mm);
    const std::size_t half = size_.bays * points_per_bay / 2;
    const double y = static_cast<double>(ring) * 6 * step;
    std::vector<PointIx> lane;
    const auto name = [&](std::size_t k) {
      return "P" + std::to_string(ring) + "-" + std::to_string(k);
    };
    const auto at = [&](std::size_t k) -> floor::Position {
      if (k < half) return {step * static_cast<double>(k), y};
      if (k == half) return {step * static_cast<double>(half - 1), y + step};
      if (k <= 2 * half) return {step * static_cast<double>(2 * half - k), y + 2 * step};
      return {0, y + step};
    };
    const std::size_t places = 2 * half + 2;
    for (std::size_t k = 0; k < places; ++k) lane.push_back(add_point(name(k), at(k).x, at(k).y));
    for (std::size_t k = 0; k < places; ++k) join(lane[k], lane[(k + 1) % places], spacing_mm);
    for (std::size_t b = 0; b < size_.bays; ++b) {
      // The second lane begins one place later, behind the point at the end.
      const std::size_t k = points_per_bay * b + 2 + (2 * b >= size_.bays ? 1 : 0);
      const floor::Position middle = at(k);
      const double away = middle.y > y ? 1200 : -1200;
      const PointIx bay_point = add_point(bay(ring, b), middle.x, middle.y + away);
      floor_.points[bay_point.value].siding = true;
      constexpr std::int64_t beside = 2332;  // sqrt(2000^2 + 1200^2)
      join(lane[k - 1], bay_point, beside);
      join(bay_point, lane[k + 1], beside);
      if (b % size_.bays_per_station == size_.bays_per_station / 2) {
        const std::size_t number = b / size_.bays_per_station;
        floor_.stations.push_back({station(ring, number),
                                   "Station " + station(ring, number),
                                   lane[k + 3],
                                   Duration{1000},
                                   Duration{1000},
                                   {}});
      }
    }
  }

  RingSize size_;
  floor::Floor floor_;
};

}  // namespace tagline::bench
