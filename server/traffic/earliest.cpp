// See earliest.hpp.
#include "server/traffic/earliest.hpp"

#include <algorithm>
#include <queue>
#include <unordered_map>

#include "server/floor/drive_time.hpp"

namespace tagline::traffic {
namespace {

/// From when to when a pose is free of all others.
struct Interval {
  Instant from;
  Instant until;
};

/// The free intervals of poses for one cart, worked out when first asked for.
class FreeTimes {
 public:
  FreeTimes(const Forecast& forecast, CartIx cart, bool held_only = false)
      : forecast_(forecast),
        cart_(cart),
        held_only_(held_only),
        place_(forecast.guard().track().ways().pose_count(), unknown) {}

  const std::vector<Interval>& of(PoseIx pose) {
    std::uint32_t& place = place_[pose.value];
    if (place == unknown) {
      place = static_cast<std::uint32_t>(found_.size());
      found_.push_back(work_out(pose));
    }
    return found_[place];
  }

 private:
  static constexpr std::uint32_t unknown = ~std::uint32_t{0};

  [[nodiscard]] std::vector<Interval> work_out(PoseIx pose) const {
    const Guard& guard = forecast_.guard();
    std::vector<Interval> used;
    guard.for_each_rival(cart_, pose, [&](Use use) {
      const bool held = use.step <= guard.itinerary(use.cart)->authority;
      if (held_only_ && !held) return;
      const Instant until = forecast_.clears(use.cart, use.step);
      used.push_back({held ? Instant::min() : forecast_.departs(use.cart, use.step),
                      until == Instant::max() ? until : until + handover_time});
    });
    std::ranges::sort(used, {}, &Interval::from);
    std::vector<Interval> free;
    Instant from = Instant::min();
    for (const Interval& use : used) {
      if (use.from > from) free.push_back({from, use.from});
      from = std::max(from, use.until);
    }
    if (from != Instant::max()) free.push_back({from, Instant::max()});
    return free;
  }

  const Forecast& forecast_;
  CartIx cart_;
  bool held_only_;
  std::vector<std::uint32_t> place_;
  std::vector<std::vector<Interval>> found_;
};

struct Node {
  PoseIx pose;
  std::uint32_t stops_done{};
  Instant departs, arrives;  // towards this pose, and here (and done here, if it is a stop)
  Instant until;             // it must have read the next tag by then
  bool stands{};             // when it can go on from here
  std::int32_t before{-1};
};

/// A node reached by a move, in the interval in which `depart` lies; nothing if that can't be.
struct Reached {
  Instant departs, arrives, until;
};

template <class Visit>
void for_each_arrival(FreeTimes& free, const Node& here, const floor::Move& move, bool can_wait,
                      const floor::CartBody& body, Visit visit) {
  for (const Interval& interval : free.of(move.to)) {
    if (interval.until <= here.arrives) continue;
    const Instant depart = std::max(here.arrives, interval.from);
    const bool waits = depart > here.arrives;
    if (waits && !can_wait) return;
    const Instant arrive = depart + time_of(move, here.stands || waits, body);
    if (arrive > here.until) return;
    if (arrive >= interval.until) continue;
    visit(Reached{depart, arrive, interval.until}, interval.from);
  }
}

/// The interval of `pose` that holds `at`, which the cart is in already: its own presence keeps the
/// others out until they are planned to come.
Instant own_until(FreeTimes& free, PoseIx pose, Instant at) {
  for (const Interval& interval : free.of(pose)) {
    if (interval.from <= at && at < interval.until) return interval.until;
  }
  return at;
}

TimedWay way_to(const std::vector<Node>& nodes, std::size_t last, std::size_t stops) {
  TimedWay way;
  std::vector<std::size_t> chain;
  for (auto i = static_cast<std::int32_t>(last); i >= 0;
       i = nodes[static_cast<std::size_t>(i)].before) {
    chain.push_back(static_cast<std::size_t>(i));
  }
  std::ranges::reverse(chain);
  way.stop_steps.resize(stops);
  std::uint32_t done = 0;
  for (const std::size_t i : chain) {
    const Node& node = nodes[i];
    const bool handled = node.stops_done > done;
    if (!way.steps.empty() && way.steps.back() == node.pose && handled) {
      // Standing at a stop: the same step.
    } else {
      way.steps.push_back(node.pose);
      way.departs.push_back(node.departs);
      way.arrives.push_back(node.arrives);
    }
    for (; done < node.stops_done; ++done) way.stop_steps[done] = way.steps.size() - 1;
    if (handled) way.done = node.arrives;
  }
  if (stops == 0) way.done = way.arrives.back();
  return way;
}

}  // namespace

std::optional<TimedWay> earliest_way(const Forecast& forecast, const WayWish& wish,
                                     const floor::TravelTimes& times, std::size_t most_states) {
  const floor::Track& track = forecast.guard().track();
  const floor::Ways& ways = track.ways();
  const floor::CartBody& body = ways.floor().cart;
  const std::size_t stops = wish.stops.size();

  // What is still to be driven at least, by the number of stops done; max() where it can't be.
  if (wish.rests.empty() && !wish.just_there) return {};
  const std::vector<Duration> nothing_more(wish.just_there ? ways.pose_count() : 0, Duration{0});
  const std::vector<Duration>& to_rest =
      wish.just_there ? nothing_more
                      : times.to_nearest(wish.all_rests != nullptr ? *wish.all_rests : wish.rests);
  std::vector<const std::vector<Duration>*> to(stops + 1, &to_rest);
  std::vector<Duration> after(stops + 1, Duration{0});  // from the next goal on to the end
  for (std::size_t s = 0; s < stops; ++s) to[s] = &times.to(wish.stops[s].point);
  for (std::size_t s = stops; s-- > 0;) {
    Duration least = Duration::max();
    for (const PoseIx pose : ways.poses_at(wish.stops[s].point)) {
      least = std::min(least, (*to[s + 1])[pose.value]);
    }
    if (least == Duration::max()) return {};
    after[s] = wish.stops[s].dwell + least + after[s + 1];
  }
  const auto left = [&](PoseIx pose, std::uint32_t done) {
    const Duration drive = (*to[done])[pose.value];
    return drive == Duration::max() ? drive : drive + after[done];
  };
  std::vector<bool> is_rest(ways.pose_count(), false);
  for (const PoseIx rest : wish.rests) is_rest[rest.value] = true;

  FreeTimes free(forecast, wish.cart, wish.first);
  std::vector<Node> nodes;
  std::unordered_map<std::uint64_t, std::vector<Instant>> seen;  // (stops done, pose) -> intervals
  using Entry = std::pair<Instant, std::size_t>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  const auto push = [&](Node node) {
    const Duration rest = left(node.pose, node.stops_done);
    if (rest == Duration::max()) return;
    nodes.push_back(node);
    queue.emplace(node.arrives + rest, nodes.size() - 1);
  };
  push({wish.start, 0, wish.ready, wish.ready, own_until(free, wish.start, wish.ready),
        wish.standing, -1});
  while (!queue.empty() && nodes.size() < most_states) {
    const std::size_t at = queue.top().second;
    queue.pop();
    const Node here = nodes[at];
    // The end of its free interval tells which interval a state is in.
    auto& intervals = seen[(std::uint64_t{here.stops_done} << 32U) | here.pose.value];
    if (std::ranges::find(intervals, here.until) != intervals.end()) continue;
    intervals.push_back(here.until);

    const PointIx point = ways[here.pose].at;
    if (here.stops_done == stops) {
      if (wish.just_there) return way_to(nodes, at, stops);
      if (is_rest[here.pose.value] && here.until == Instant::max()) {
        return way_to(nodes, at, stops);
      }
    } else if (const Stop& stop = wish.stops[here.stops_done]; point == stop.point) {
      const Instant done = here.arrives + floor::lost_stopping(body.speed, body) + stop.dwell;
      if (done < here.until) {
        push({here.pose, here.stops_done + 1, here.departs, done, here.until, true,
              static_cast<std::int32_t>(at)});
      }
    }
    const bool can_wait = !ways.floor()[point].tags.empty() || here.before < 0;
    for (const floor::Move& move : ways.moves_from(here.pose)) {
      if (!times.open(move.to)) continue;
      for_each_arrival(free, here, move, can_wait, body, [&](const Reached& reached, Instant) {
        push({move.to, here.stops_done, reached.departs, reached.arrives, reached.until, false,
              static_cast<std::int32_t>(at)});
      });
    }
  }
  return {};
}

std::optional<TimedWay> earliest_along(const Forecast& forecast, CartIx cart,
                                       const std::vector<PoseIx>& steps,
                                       const std::vector<Duration>& dwell, Instant ready,
                                       bool standing) {
  const floor::Ways& ways = forecast.guard().track().ways();
  const floor::CartBody& body = ways.floor().cart;
  FreeTimes free(forecast, cart);
  std::vector<Node> nodes{
      {steps[0], 0, ready, ready, own_until(free, steps[0], ready), standing, -1}};
  // Per step, one node per free interval of its pose, each as early as can be.
  std::vector<std::size_t> level{0};
  for (std::size_t i = 1; i < steps.size() && !level.empty(); ++i) {
    const floor::Move& move = *ways.find_move(steps[i - 1], steps[i]);
    const bool can_wait = i == 1 || !ways.floor()[ways[steps[i - 1]].at].tags.empty();
    const Duration stands_for = i < dwell.size() ? dwell[i] : Duration{0};
    std::vector<std::size_t> next;
    for (const std::size_t from : level) {
      const Node here = nodes[from];
      for_each_arrival(free, here, move, can_wait, body, [&](const Reached& reached, Instant) {
        Node node{steps[i],
                  0,
                  reached.departs,
                  reached.arrives,
                  reached.until,
                  false,
                  static_cast<std::int32_t>(from)};
        if (stands_for > Duration{0}) {
          node.arrives += stands_for + floor::lost_stopping(body.speed, body);
          node.stands = true;
          if (node.arrives >= node.until) return;
        }
        const auto same =
            std::ranges::find_if(next, [&](std::size_t n) { return nodes[n].until == node.until; });
        if (same == next.end()) {
          nodes.push_back(node);
          next.push_back(nodes.size() - 1);
        } else if (node.arrives < nodes[*same].arrives) {
          nodes[*same] = node;
        }
      });
    }
    level = std::move(next);
  }
  for (const std::size_t last : level) {
    if (nodes[last].until == Instant::max()) return way_to(nodes, last, 0);
  }
  return {};
}

}  // namespace tagline::traffic
