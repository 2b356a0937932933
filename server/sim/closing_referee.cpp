// See closing_referee.hpp.
#include "server/sim/closing_referee.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "server/floor/polyline.hpp"

namespace tagline::sim {
namespace {

using floor::Position;

/// How far a body may go from its anchor before it gets a new one, mm.
constexpr double skin = 1'000;
constexpr double least_pause = 0.002;

double dot(Position a, Position b) { return a.x * b.x + a.y * b.y; }

/// Free space between two rectangles seen along `axis`, from `a` to `b`; negative if they overlap.
/// `way`: +1 if b lies ahead along the axis, else -1.
double space_along(Position axis, const Rectangle& a, const Rectangle& b, double& way) {
  const auto reach = [&](const Rectangle& r) {
    const Position across{-r.along.y, r.along.x};
    return std::abs(dot(axis, r.along)) * r.length / 2 + std::abs(dot(axis, across)) * r.width / 2;
  };
  const double between = dot(axis, {b.centre.x - a.centre.x, b.centre.y - a.centre.y});
  way = between >= 0 ? 1 : -1;
  return std::abs(between) - reach(a) - reach(b);
}

/// No corner of the body is faster than this for the next chord / 8v.
double fastest_corner(const SeenMotion& m, double reach) {
  if (m.still) return 0;
  if (m.swing > 0) return m.swing;
  if (m.straight_s > 0) return m.speed;
  const double spin = 2 * m.speed / (m.chord * 3 / 4);
  return m.speed + spin * reach;
}

double reader_speed(const SeenMotion& m) { return m.still ? 0 : std::max(m.speed, m.swing); }

/// For how long fastest_corner() holds.
double holds_for(const SeenMotion& m) {
  if (m.still || m.swing > 0) return std::numeric_limits<double>::infinity();
  if (m.straight_s > 0) return m.straight_s;
  return m.chord / (8 * m.speed);
}

}  // namespace

ClosingReferee::ClosingReferee(std::size_t bodies, double reach, double speed, Look look)
    : look_{std::move(look)},
      reach_{reach},
      speed_{speed},
      near_{2 * reach + 2 * skin},
      bodies_(bodies),
      pairs_(bodies * bodies) {}

ClosingReferee::Pair& ClosingReferee::pair(std::size_t a, std::size_t b) {
  return pairs_[std::min(a, b) * bodies_.size() + std::max(a, b)];
}

std::int64_t ClosingReferee::cell_of(Position at) const {
  const auto column = static_cast<std::int64_t>(std::floor(at.x / near_));
  const auto row = static_cast<std::int64_t>(std::floor(at.y / near_));
  return (column << 32) + row;
}

bool ClosingReferee::close(std::size_t a, std::size_t b) const {
  return floor::distance(bodies_[a].anchor, bodies_[b].anchor) <= near_;
}

template <class Each>
void ClosingReferee::around(std::size_t body, const Each& each) {
  const std::int64_t here = bodies_[body].cell;
  for (std::int64_t column = -1; column <= 1; ++column) {
    for (std::int64_t row = -1; row <= 1; ++row) {
      const auto found = cells_.find(here + (column << 32) + row);
      if (found == cells_.end()) continue;
      for (const std::uint32_t other : found->second) {
        if (other != body && close(body, other)) each(other);
      }
    }
  }
}

void ClosingReferee::enter(std::size_t body, double now) {
  bodies_[body].entered = true;
  stirred(body, now);
}

void ClosingReferee::leave(std::size_t body) {
  Body& b = bodies_[body];
  b.entered = false;
  b.renew = never;
  std::erase(cells_[b.cell], static_cast<std::uint32_t>(body));
  for (std::size_t other = 0; other < bodies_.size(); ++other) {
    if (other != body) pair(body, other) = {};
  }
}

void ClosingReferee::anchor(std::size_t body, double now) {
  Body& b = bodies_[body];
  const SeenMotion seen = look_(body, now);
  const std::int64_t cell = cell_of(seen.reader);
  auto& old = cells_[b.cell];
  old.erase(std::remove(old.begin(), old.end(), static_cast<std::uint32_t>(body)), old.end());
  b.anchor = seen.reader;
  b.cell = cell;
  cells_[cell].push_back(static_cast<std::uint32_t>(body));
  b.renew = never;
  if (!seen.still) {
    b.renew = now + skin / std::max(reader_speed(seen), speed_);
    queue_.push({b.renew, static_cast<std::uint32_t>(body), static_cast<std::uint32_t>(body)});
  }
  around(body, [&](std::size_t other) {
    if (!pair(body, other).listed) look_at(body, other, now);
  });
}

void ClosingReferee::stirred(std::size_t body, double now) {
  if (!bodies_[body].entered) return;
  anchor(body, now);
  around(body, [&](std::size_t other) { look_at(body, other, now); });
}

void ClosingReferee::schedule(std::size_t a, std::size_t b, double at) {
  pair(a, b).next = at;
  if (at == never) return;
  queue_.push(
      {at, static_cast<std::uint32_t>(std::min(a, b)), static_cast<std::uint32_t>(std::max(a, b))});
}

void ClosingReferee::look(double now) {
  while (!queue_.empty() && queue_.top().at <= now) {
    const Due due = queue_.top();
    queue_.pop();
    if (due.a == due.b) {
      if (bodies_[due.a].renew == due.at) anchor(due.a, now);
    } else if (pair(due.a, due.b).next == due.at) {
      look_at(due.a, due.b, now);
    }
  }
}

void ClosingReferee::look_at(std::size_t a, std::size_t b, double now) {
  ++looks_;
  Pair& state = pair(a, b);
  if (!close(a, b)) {
    state.listed = state.touching = false;
    state.next = never;
    return;
  }
  state.listed = true;
  const SeenMotion one = look_(a, now);
  const SeenMotion two = look_(b, now);
  const double sum = reader_speed(one) + reader_speed(two);
  const double apart = floor::distance(one.reader, two.reader) - 2 * reach_;
  double pause = 0;
  if (apart > 0) pause = sum > 0 ? apart / sum : never;
  if (pause < 1) {
    // Close enough that it pays to know more.
    const double straight =
        std::min(one.still ? never : one.straight_s, two.still ? never : two.straight_s);
    double widest = -1;
    for (const Rectangle* r : {&one.body, &two.body}) {
      for (const Position axis : {r->along, Position{-r->along.y, r->along.x}}) {
        double way = 1;
        const double space = space_along(axis, one.body, two.body, way);
        widest = std::max(widest, space);
        if (space <= 0) continue;
        double closing = 0;
        if (!one.still) closing += one.speed * std::max(0.0, way * dot(axis, one.going));
        if (!two.still) closing += two.speed * std::max(0.0, -way * dot(axis, two.going));
        const double lasts = closing > 0 ? space / closing : never;
        pause = std::max(pause, std::min(lasts, straight));
      }
    }
    const bool touch = widest <= 0;
    double gap = touch ? 0 : widest;
    // The widest axis tells the free space only if a corner does not point at a corner.
    if (!touch && widest < least_gap_ + 1) gap = free_space(one.body, two.body);
    least_gap_ = std::min(least_gap_, gap);
    if (touch && !state.touching) contacts_.push_back({a, b, now, one, two});
    state.touching = touch;
    const double corners = fastest_corner(one, reach_) + fastest_corner(two, reach_);
    const double by_corners = corners > 0 ? gap / corners : never;
    pause = std::max(pause, std::min({by_corners, holds_for(one), holds_for(two)}));
  }
  schedule(a, b, now + std::max(pause, least_pause));
}

}  // namespace tagline::sim
