// Small floors for the simulator's tests, and authorities made by hand from a way over them.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "protocol/messages.hpp"
#include "server/floor/ways.hpp"
#include "server/sim/virtual_cart.hpp"
#include "server/sim/world.hpp"

namespace tagline::sim::test {

class FloorMaker {
 public:
  FloorMaker() {
    floor.name = "test";
    floor.cart = {Mm{600}, Mm{400}, Mm{100}, MmPerS{400}, MmPerS2{300}, MmPerS2{600}, Mm{100}};
  }
  PointIx point(const std::string& id, double x, double y) {
    const auto ix = static_cast<std::uint32_t>(floor.points.size());
    char tag[9];
    std::snprintf(tag, sizeof tag, "04B0%04X", ix);
    floor.points.push_back({id, {x, y}, {tag}, false, false});
    return {ix};
  }
  SegmentIx segment(PointIx from, PointIx to, std::vector<floor::Position> via = {}) {
    const auto ix = static_cast<std::uint32_t>(floor.segments.size());
    floor::Segment s{"S" + std::to_string(ix), from, to, Mm{1}, floor.cart.speed, false, false,
                     std::move(via),           {}};
    double length = 0;
    floor::Position last = floor[from].at;
    std::vector<floor::Position> rest = s.via;
    rest.push_back(floor[to].at);
    for (const floor::Position& p : rest) {
      length += std::hypot(p.x - last.x, p.y - last.y);
      last = p;
    }
    s.length = Mm{static_cast<std::int64_t>(std::lround(length))};
    floor.segments.push_back(s);
    return {ix};
  }
  floor::Floor floor;
};

/// One straight line of points P0, P1, ... along x, `step` mm apart.
inline floor::Floor line(int points, double step = 2000) {
  FloorMaker make;
  PointIx last = make.point("P0", 0, 0);
  for (int i = 1; i < points; ++i) {
    const PointIx next = make.point("P" + std::to_string(i), step * i, 0);
    make.segment(last, next);
    last = next;
  }
  return make.floor;
}

/// A one-way loop, 6 m by 4 m with bends of 1 m radius drawn in 8 chords, 8 points; P1 is the
/// station WORK with 3 s of handling; a shortcut leaves at P2 to the left and comes in at P6; a
/// spur leaves at P4 to the right.
inline floor::Floor loop() {
  FloorMaker make;
  const PointIx p0 = make.point("P0", 1000, 0);
  const PointIx p1 = make.point("P1", 3000, 0);
  const PointIx p2 = make.point("P2", 5000, 0);
  const PointIx p3 = make.point("P3", 6000, 2000);
  const PointIx p4 = make.point("P4", 5000, 4000);
  const PointIx p5 = make.point("P5", 3000, 4000);
  const PointIx p6 = make.point("P6", 1000, 4000);
  const PointIx p7 = make.point("P7", 0, 2000);
  const PointIx spur_end = make.point("E", 2600, 6000);
  const auto bend = [](double cx, double cy, double from_deg) {
    std::vector<floor::Position> via;
    for (int i = 1; i <= 8; ++i) {
      const double a = (from_deg + 90.0 * i / 8) * std::numbers::pi / 180;
      via.push_back({cx + 1000 * std::cos(a), cy + 1000 * std::sin(a)});
    }
    return via;
  };
  make.segment(p0, p1);
  make.segment(p1, p2);
  make.segment(p2, p3, bend(5000, 1000, -90));
  auto in_4 = bend(5000, 3000, 0);
  in_4.pop_back();
  make.segment(p3, p4, in_4);
  make.segment(p4, p5);
  make.segment(p5, p6);
  make.segment(p6, p7, bend(1000, 3000, 90));
  auto in_0 = bend(1000, 1000, 180);
  in_0.pop_back();
  make.segment(p7, p0, in_0);
  make.segment(p2, p6, {{5000, 1000}, {3500, 3000}, {1800, 4000}});
  const SegmentIx spur = make.segment(p4, spur_end, {{4200, 4200}, {3000, 5600}});
  make.floor.segments[spur.value].spur = true;
  make.floor.stations.push_back(
      {"WORK", "Work bench", p1, Duration{3000}, Duration{3000}, std::nullopt});
  make.floor.chargers.push_back({"C1", p5});
  return make.floor;
}

/// An out-and-back line: A - B, two-way, with a turn on the spot at B.
inline floor::Floor out_and_back() {
  FloorMaker make;
  const PointIx a = make.point("A", 0, 0);
  const PointIx b = make.point("B", 4000, 0);
  const SegmentIx s = make.segment(a, b);
  make.floor.segments[s.value].two_way = true;
  make.floor.points[a.value].turn_round = true;
  make.floor.points[b.value].turn_round = true;
  return make.floor;
}

inline protocol::Branch told(floor::Branch b) {
  return static_cast<protocol::Branch>(static_cast<int>(b));
}

/// The authority along poses, the first having step `first`; `acts` by index, else go, and the
/// last wait unless told.
inline protocol::Authority authority(
    const floor::Ways& ways, const std::vector<PoseIx>& poses, protocol::Step first,
    const std::vector<std::pair<std::size_t, protocol::Act>>& acts = {}) {
  protocol::Authority result;
  result.trip = 1;
  for (std::size_t i = 0; i < poses.size(); ++i) {
    const floor::Point& point = ways.floor()[ways[poses[i]].at];
    protocol::AuthorityPoint told_point;
    told_point.step = first + i;
    told_point.point = point.id;
    told_point.tags = point.tags;
    if (i + 1 == poses.size()) told_point.act = protocol::Act::wait;
    if (i > 0) {
      const floor::Move* move = ways.find_move(poses[i - 1], poses[i]);
      if (move == nullptr) throw std::logic_error("no move between the poses of the test");
      told_point.branch = told(move->branch);
      told_point.gear =
          move->gear == floor::Gear::back ? protocol::Gear::back : protocol::Gear::forward;
      told_point.length = move->length.value;
      told_point.speed = ways.floor()[move->segment].speed.value;
      if (move->turn_round) result.points.back().act = protocol::Act::turn;
    }
    result.points.push_back(told_point);
  }
  for (const auto& [index, act] : acts) result.points[index].act = act;
  return result;
}

/// Poses from `start` through the named points, in order, each one move on.
inline std::vector<PoseIx> way(const floor::Ways& ways, PoseIx start,
                               const std::vector<std::string>& points) {
  std::vector<PoseIx> poses{start};
  for (const std::string& id : points) {
    const floor::Move* found = nullptr;
    for (const floor::Move& move : ways.moves_from(poses.back())) {
      if (ways.floor()[ways[move.to].at].id == id) found = &move;
    }
    if (found == nullptr) throw std::logic_error("no move to " + id);
    poses.push_back(found->to);
  }
  return poses;
}

inline PoseIx pose_at(const floor::Ways& ways, const std::string& id) {
  return ways.poses_at(*ways.floor().find_point(id)).front();
}

/// Ties one cart to an imagined service that only acknowledges.
struct Linked {
  Linked(World& world, CartIx ix) : cart{world, ix, {"cart-1", "key", "boot-1"}} {
    cart.on_connected();
    cart.receive(protocol::Welcome{0, 0});
  }
  void step() {
    for (protocol::CartMessage& m : cart.poll()) {
      if (const auto* read = std::get_if<protocol::Read>(&m)) reads.push_back(read->step);
      std::visit(
          [&](const auto& x) {
            if constexpr (requires { x.seq; }) cart.receive(protocol::Ack{x.seq});
          },
          m);
      sent.push_back(std::move(m));
    }
  }
  VirtualCart cart;
  std::vector<protocol::CartMessage> sent;
  std::vector<protocol::Step> reads;
};

inline void run(World& world, std::vector<Linked*> carts, double seconds) {
  const auto until = world.now() + std::chrono::milliseconds{static_cast<int>(seconds * 1000)};
  while (world.now() < until) {
    world.step();
    for (Linked* cart : carts) cart->step();
  }
}

}  // namespace tagline::sim::test
