// A straight rail with tags for trying the cart logic by itself: the cart moves on one axis, with
// the accelerations of its build. Deliberately simpler than server/sim, and not the same code.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "protocol/cart/cart_logic.hpp"

namespace tagline::cart::test {

constexpr CartBuild build{600, 100, 400, 600, 100};
constexpr double acceleration = 300;
constexpr double window = 25;
constexpr std::uint32_t step_ms = 20;

inline Tag tag(const std::string& hex) {
  Tag result = no_tag();
  tag_from_hex(hex.c_str(), result);
  return result;
}

struct Leg {
  Step step;
  double length;
  Act act{Act::go};
  Gear gear{Gear::forward};
  Branch branch{Branch::straight};
  std::uint16_t speed{400};
};

/// The UID of the tag of step n, unless a test lays other tags.
inline std::string uid(Step n) {
  char text[9];
  std::snprintf(text, sizeof text, "04A0%04X", static_cast<unsigned>(n));
  return text;
}

class Rail {
 public:
  Rail() { logic.power_up({tag(uid(1)), false, false}, true, 0); }

  /// Tags at 0 for step 1, then after each leg's length; the same for the authority's distances.
  bool give(const std::vector<Leg>& legs) {
    double place = 0;
    for (const Leg& leg : legs) {
      place += leg.gear == Gear::back ? -leg.length : leg.length;
      if (leg.gear == Gear::forward) tags[uid(leg.step)] = place;
    }
    return tell(legs);
  }
  bool tell(const std::vector<Leg>& legs, const std::map<Step, std::string>& other_uid = {},
            Trip trip = 1) {
    if (!logic.authority_begin(legs.front().step, legs.back().step, trip)) return false;
    for (const Leg& leg : legs) {
      const auto other = other_uid.find(leg.step);
      const Tag t = tag(other == other_uid.end() ? uid(leg.step) : other->second);
      AuthorityPoint point{};
      point.step = leg.step;
      point.act = leg.act;
      point.branch = leg.branch;
      point.gear = leg.gear;
      point.length = static_cast<std::int32_t>(leg.length);
      point.speed = leg.speed;
      const std::uint8_t count = untagged.contains(leg.step) ? 0 : 1;
      if (!logic.authority_point(point, &t, count)) break;
    }
    logic.authority_end();
    return true;
  }

  /// Runs for so long; notes events and the speed along the way.
  void run(double seconds) {
    const int steps = static_cast<int>(seconds * 1000 / step_ms);
    for (int i = 0; i < steps; ++i) once();
  }
  void once() {
    senses.time_ms += step_ms;
    const double dt = step_ms / 1000.0;
    double target = drive.speed;
    if (drive.turn || drive.handling != Handling::none) target = 0;
    speed = target > speed ? std::min(target, speed + acceleration * dt)
                           : std::max(target, speed - build.deceleration * dt);
    at += (drive.gear == Gear::back ? -speed : speed) * dt;
    farthest = std::max(farthest, at);
    top_speed = std::max(top_speed, speed);
    senses.odometer = static_cast<std::int32_t>(std::lround(at * odometer_factor));
    senses.standing = speed == 0;
    senses.turned = senses.handled = false;
    if (drive.turn && ++turning * step_ms >= 6000) {
      senses.turned = true;
      turning = 0;
      turned_at.push_back(at);
    }
    if (drive.handling != Handling::none && ++handling * step_ms >= 2000) {
      senses.handled = true;
      handling = 0;
    }
    for (const auto& [text, place] : tags) {
      if (std::abs(at - place) <= window && !dirty.contains(text)) {
        logic.on_tag(tag(text), senses.odometer);
        if (!speed_at.contains(text)) speed_at[text] = speed;
      }
    }
    drive = logic.step(senses);
    Event event{};
    while (logic.next_event(event)) events.push_back(event);
  }

  [[nodiscard]] std::vector<Step> reads() const {
    std::vector<Step> result;
    for (const Event& e : events) {
      if (e.kind == EventKind::read) result.push_back(e.step);
    }
    return result;
  }
  [[nodiscard]] std::size_t count(EventKind kind) const {
    return static_cast<std::size_t>(std::count_if(events.begin(), events.end(),
                                                  [&](const Event& e) { return e.kind == kind; }));
  }

  CartLogic logic{build};
  Senses senses{0, 0, true, false, true, false, false};
  Drive drive{0, Gear::forward, Branch::straight, false, false, Handling::none};
  /// Steps whose point has no tag, as far as the authority says.
  std::set<Step> untagged;
  std::map<std::string, double> tags{{uid(1), 0}};
  std::set<std::string> dirty;
  std::map<std::string, double> speed_at;
  std::vector<Event> events;
  std::vector<double> turned_at;
  double at{0}, speed{0}, farthest{0}, top_speed{0}, odometer_factor{1};
  std::uint32_t turning{0}, handling{0};
};

}  // namespace tagline::cart::test
