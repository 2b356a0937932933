// Works made at random, such as somebody could lay them out: a ring of tape round a hall with
// station bays, stations on the ring itself, sidings, dead-end spurs, two-way corridors that end in
// a place to turn, and links across the hall that cross each other. 10 to 500 points. Equal seeds
// give equal floors. Uneven lengths and cart sizes, so that distances come out odd.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>
#include <string>

#include "tests/support/floor_builder.hpp"

namespace tagline::test {

struct RandomWorks {
  floor::Floor floor;
  std::size_t sidings{};
};

class RandomWorksMaker {
 public:
  explicit RandomWorksMaker(std::uint32_t seed) : random_(seed) {}

  /// `slots` features on each side of the ring.
  RandomWorks make(int slots) {
    b_.name("Random works");
    b_.cart(whole(450, 800), whole(300, 460), whole(0, 200)).clearance(whole(50, 120));
    const double side = 7200.0 * slots;
    const double gap = 4000;
    // Corners: the ring runs to the right at the bottom, up, to the left, and down.
    run_side({gap, 0}, 1, 0, slots, side);
    corner({side + gap, 0}, {side + 2 * gap, gap});
    run_side({side + 2 * gap, gap}, 0, 1, slots, side);
    corner({side + 2 * gap, side + gap}, {side + gap, side + 2 * gap});
    run_side({side + gap, side + 2 * gap}, -1, 0, slots, side);
    corner({gap, side + 2 * gap}, {0, side + gap});
    run_side({0, side + gap}, 0, -1, slots, side);
    // Close the ring.
    segment(last_, first_).via({{0, gap * 0.4}, {gap * 0.4, 0}});
    links();
    // At least two stations on the ring itself, so that something can be asked for.
    while (stations_ < 2) add_station("P" + std::to_string(1 + stations_));
    return {b_.build(), sidings_};
  }

 private:
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(random_()) / 4294967296.0;
  }
  std::int64_t whole(double low, double high) {
    return static_cast<std::int64_t>(std::floor(between(low, high)));
  }
  bool chance(double p) { return between(0, 1) < p; }

  std::string point(floor::Position at) {
    const std::string id = "P" + std::to_string(points_++);
    b_.point(id, std::round(at.x), std::round(at.y));
    return id;
  }
  FloorBuilder& segment(const std::string& from, const std::string& to) {
    return b_.segment("S" + std::to_string(segments_++), from, to);
  }
  void add_station(const std::string& at) { b_.station("W" + std::to_string(stations_++), at); }
  /// Goes on along the ring to a new point.
  std::string on_to(floor::Position at) {
    const std::string id = point(at);
    if (!last_.empty()) segment(last_, id);
    if (first_.empty()) first_ = id;
    last_ = id;
    return id;
  }
  void corner(floor::Position from, floor::Position to) {
    // A rounded corner: the curve's two inner corners lie on the outer corner's sides.
    on_to(from);
    const bool along_x = std::abs(heading_x_) > 0.5;
    const floor::Position outer =
        along_x ? floor::Position{to.x, from.y} : floor::Position{from.x, to.y};
    const auto part = [](floor::Position a, floor::Position b_pos, double t) {
      return floor::Position{a.x + (b_pos.x - a.x) * t, a.y + (b_pos.y - a.y) * t};
    };
    const std::string id = point(to);
    const floor::Position v1 = part(from, outer, 0.7);
    const floor::Position v2 = part(outer, to, 0.3);
    segment(last_, id).via({{v1.x, v1.y}, {v2.x, v2.y}});
    last_ = id;
  }

  void run_side(floor::Position start, double dx, double dy, int slots, double side) {
    heading_x_ = dx;
    // Outwards is to the right of the way, inwards to the left.
    const auto at = [&](double along, double out) {
      return floor::Position{start.x + dx * along + dy * out, start.y + dy * along - dx * out};
    };
    if (first_.empty()) on_to(start);
    const double slot = side / slots;
    const int here = side_++;
    const bool linked = here < 2 ? chance(0.7) : !link_ends_[here - 2].id.empty();
    for (int s = 0; s < slots; ++s) {
      const double from = slot * s + between(300, 900);
      const double jitter = between(0.9, 1.1);
      const double x = between(0, 1);
      if (linked && s == slots / 2) {
        on_to(at(from, 0));
        const floor::Position place = at(from + 2400, 0);
        link_ends_[here] = {on_to(place), place, dx, dy};
        on_to(at(from + 4800, 0));
      } else if (x < 0.28) {
        bay(at, from, jitter, true);
      } else if (x < 0.55) {
        siding_bay(at, from, jitter);
      } else if (x < 0.65) {
        on_to(at(from, 0));
        add_station(on_to(at(from + 2500 * jitter, 0)));
        on_to(at(from + 5000 * jitter, 0));
      } else if (x < 0.77) {
        spur(at, from, jitter);
      } else if (x < 0.87) {
        corridor(at, from, jitter);
      } else {
        for (double along = from; along < from + 5500; along += between(1300, 2600)) {
          on_to(at(along, 0));
        }
      }
    }
  }

  template <class At>
  void bay(const At& at, double from, double jitter, bool is_station) {
    const std::string in = on_to(at(from, 0));
    const std::string before = point(at(from + 1800 * jitter, 1000));
    const std::string place = point(at(from + 2900 * jitter, 1000));
    segment(in, before).segment("S" + std::to_string(segments_++), before, place);
    if (is_station) add_station(place);
    on_to(at(from + 2350 * jitter, 0));
    const std::string out = on_to(at(from + 4700 * jitter, 0));
    segment(place, out);
  }
  template <class At>
  void siding_bay(const At& at, double from, double jitter) {
    const std::string in = on_to(at(from, 0));
    on_to(at(from + 2350 * jitter, 0));
    const std::string out = on_to(at(from + 4700 * jitter, 0));
    const bool both = chance(0.5);
    for (int i = 0; i < (both ? 2 : 1); ++i) {
      const double off = i == 0 ? 1000 : -1000;
      const std::string before = point(at(from + 1800 * jitter, off));
      const std::string place = point(at(from + 2850 * jitter, off));
      b_.siding();
      if (chance(0.4)) b_.charger("C" + std::to_string(chargers_++), place);
      segment(in, before);
      segment(before, place);
      segment(place, out);
      ++sidings_;
    }
  }
  template <class At>
  void spur(const At& at, double from, double jitter) {
    on_to(at(from, 0));
    const std::string mouth = on_to(at(from + 1500 * jitter, 0));
    on_to(at(from + 4000 * jitter, 0));
    const std::string inner = point(at(from + 2300 * jitter, 1500));
    const std::string end = point(at(from + 2300 * jitter, 2700));
    segment(mouth, inner).spur();
    segment(inner, end).spur();
    add_station(end);
  }
  template <class At>
  void corridor(const At& at, double from, double jitter) {
    const std::string in = on_to(at(from, 0));
    const std::string out = point(at(from + 2000 * jitter, 0));
    segment(in, out);
    const std::string neck = point(at(from + 1000 * jitter, 2200));
    const std::string middle = point(at(from + 1000 * jitter, 4600));
    const std::string end = point(at(from + 1000 * jitter, 6800));
    b_.turn_round();
    segment(in, neck);
    segment(neck, middle).two_way();
    segment(middle, end).two_way();
    segment(neck, out);
    add_station(end);
    last_ = out;
  }

  /// From the bottom to the top and from the right to the left; they cross in the hall.
  void links() {
    for (int pair = 0; pair < 2; ++pair) {
      const Link& from = link_ends_[pair];
      const Link& to = link_ends_[pair + 2];
      if (from.id.empty() || to.id.empty()) continue;
      const auto inwards = [](const Link& end, double along) {
        return floor::Position{end.at.x + end.dx * along - end.dy * 2200,
                               end.at.y + end.dy * along + end.dx * 2200};
      };
      const floor::Position begin = inwards(from, 1200);
      const floor::Position end = inwards(to, -1200);
      const int parts = 1 + static_cast<int>(std::hypot(end.x - begin.x, end.y - begin.y) / 5000);
      std::string before = from.id;
      for (int i = 0; i <= parts; ++i) {
        const double t = static_cast<double>(i) / parts;
        const std::string id =
            point({begin.x + (end.x - begin.x) * t, begin.y + (end.y - begin.y) * t});
        segment(before, id);
        before = id;
      }
      segment(before, to.id);
    }
  }

  struct Link {
    std::string id;
    floor::Position at;
    double dx{}, dy{};
  };
  Link link_ends_[4];  // bottom, right, top, left
  int side_{0};
  FloorBuilder b_;
  std::mt19937 random_;
  std::string first_, last_;
  double heading_x_{1};
  std::size_t points_{0}, segments_{0}, stations_{0}, chargers_{0}, sidings_{0};
};

inline RandomWorks random_works(std::uint32_t seed, int slots) {
  return RandomWorksMaker(seed).make(slots);
}

}  // namespace tagline::test
