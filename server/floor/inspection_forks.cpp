// Inspection: at a fork, can a cart be told in time which way to take, and so that it understands.
#include <algorithm>
#include <map>
#include <set>

#include "server/floor/drive_time.hpp"
#include "server/floor/inspection_parts.hpp"

namespace tagline::floor {
namespace {

/// Ways on that carts take from there.
std::size_t choices(const Ways& ways, PoseIx pose, const std::vector<bool>& used) {
  const auto moves = ways.moves_from(pose);
  return static_cast<std::size_t>(std::ranges::count_if(
      moves, [&](const Move& move) { return move.gear == Gear::forward && used[move.to.value]; }));
}

/// What a cart drives from the read of a tag until it could stand, if the answer told it to.
Mm needed_before(const Floor& floor, SegmentIx by) {
  const MmPerS speed = std::min(floor[by].speed, floor.cart.speed);
  return Mm{(speed.value * link_latency.count() + 999) / 1000} +
         stopping_distance(speed, floor.cart) + Mm{reader_window.value / 2};
}

struct Late {
  Mm before;
  Mm needed;
  std::string why;
};

/// Walks back from a fork to a tag that is far enough ahead.
std::optional<Late> too_late(const Ways& ways, PoseIx fork, const std::vector<bool>& used) {
  const Floor& floor = ways.floor();
  const Mm needed = needed_before(floor, ways[fork].by);
  struct Walk {
    PoseIx pose;
    Mm before;
  };
  std::vector<Walk> open{{fork, Mm{0}}};
  std::set<PoseIx> seen{fork};
  std::optional<Late> worst;
  const auto take = [&](Late late) {
    if (!worst || late.before < worst->before) worst = std::move(late);
  };
  while (!open.empty()) {
    const Walk walk = open.back();
    open.pop_back();
    for (const Move& into : ways.moves_to(walk.pose)) {
      // A halt on the way: there is all the time in the world.
      if (into.gear == Gear::back || into.turn_round) continue;
      const Point& point = floor[ways[into.from].at];
      const Mm before = walk.before + into.length;
      const bool tagged = !point.tags.empty();
      if (tagged && before >= needed) continue;
      if (choices(ways, into.from, used) > 1) {
        take({before, needed,
              tagged ? "the tag before it, " + point.id + ", is a fork itself"
                     : "between it and the last tag lies the fork " + point.id});
      } else if (seen.insert(into.from).second) {
        open.push_back({into.from, before});
      }
    }
    // Nothing leads to a pose where carts only begin: they stand there and have time.
  }
  return worst;
}

void inspect_branches(const Ways& ways, PoseIx pose, std::set<PointIx>& reported,
                      std::vector<Finding>& findings) {
  const Floor& floor = ways.floor();
  std::map<std::pair<bool, Branch>, std::vector<std::string>> named;
  for (const Move& move : ways.moves_from(pose)) {
    if (move.gear == Gear::back) continue;
    named[{move.turn_round, move.branch}].push_back(floor[move.segment].id);
  }
  for (const auto& [branch, segments] : named) {
    if (segments.size() < 2 || !reported.insert(ways[pose].at).second) continue;
    static const std::map<Branch, const char*> words{
        {Branch::left, "left"}, {Branch::straight, "straight"}, {Branch::right, "right"}};
    findings.push_back({.severity = Severity::forbids,
                        .kind = "ambiguous-fork",
                        .place = "fork " + floor[ways[pose].at].id,
                        .at = floor[ways[pose].at].at,
                        .figure = std::to_string(segments.size()) + " segments are \"" +
                                  words.at(branch.second) + "\" there: " + listed(segments) + ".",
                        .rule = "A cart knows only left, straight and right: at most three ways "
                                "out, each with a word of its own.",
                        .source = "protocol/README.md, branch",
                        .remedy = "Part the tape at two points one after the other, or set "
                                  "\"turn\" of these segments."});
  }
}

}  // namespace

void inspect_forks(const Track& track, const std::vector<bool>& used,
                   std::vector<Finding>& findings) {
  const Ways& ways = track.ways();
  const Floor& floor = track.floor();
  std::set<PointIx> ambiguous;
  std::map<PointIx, Late> late;
  for (std::uint32_t p = 0; p < ways.pose_count(); ++p) {
    const PoseIx pose{p};
    inspect_branches(ways, pose, ambiguous, findings);
    if (choices(ways, pose, used) < 2) continue;
    if (auto found = too_late(ways, pose, used)) {
      const auto known = late.find(ways[pose].at);
      if (known == late.end() || found->before < known->second.before) {
        late.insert_or_assign(ways[pose].at, std::move(*found));
      }
    }
  }
  for (const auto& [point, found] : late) {
    findings.push_back(
        {.severity = Severity::costs,
         .kind = "late-fork",
         .place = "fork " + floor[point].id,
         .at = floor[point].at,
         .figure = "The last place to tell a cart its way is " + text(found.before) +
                   " before it (" + found.why + "); needed are " + text(found.needed) + ".",
         .rule = "A tag lies before a fork by speed x " + std::to_string(link_latency.count()) +
                 " ms of link + speed^2 / (2 x braking), with no other fork between.",
         .source = "stopping distance v t + v^2 / 2a; the link's time is common practice, no "
                   "source",
         .remedy = "Move the forks apart, put a tag further ahead, or lower the speed before it."});
  }
}

}  // namespace tagline::floor
