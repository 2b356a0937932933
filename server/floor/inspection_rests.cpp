// Inspection: who stands in whose way: sidings and chargers that are none, stations on the aisle.
#include <algorithm>
#include <cmath>
#include <set>

#include "server/floor/inspection_parts.hpp"

namespace tagline::floor {
namespace {

/// What a cart that stands in a pose keeps others from.
struct Blocked {
  /// Places that are cut off from the rest.
  std::vector<std::string> places;
  /// Points on others' ways that can't be passed, though every place can be reached by a detour.
  std::vector<std::string> points;
  [[nodiscard]] bool nothing() const { return places.empty() && points.empty(); }
};

class Rests {
 public:
  Rests(const Track& track, std::vector<Finding>& findings)
      : track_{track},
        ways_{track.ways()},
        floor_{track.floor()},
        findings_{findings},
        places_{places_of(floor_)},
        main_{main_set(ways_, places_, [](PoseIx) { return true; })} {}

  void inspect() {
    for (const Place& place : places_) {
      if (!any_of_place(ways_, place, main_)) continue;  // found with the ways
      if (place.siding) {
        inspect_siding(place);
      } else if (!place.stations.empty()) {
        inspect_station(place);
      }
      if (place.charger && !place.siding) inspect_charger(place);
    }
  }

 private:
  [[nodiscard]] Blocked blocked_by(const Place& place, PoseIx standing) const {
    std::vector<Place> others;
    for (const Place& other : places_) {
      if (other.point != place.point && any_of_place(ways_, other, main_)) others.push_back(other);
    }
    const auto without_it = main_set(ways_, others, [&](PoseIx pose) {
      return main_[pose.value] && ways_[pose].at != place.point;
    });
    const auto open = main_set(ways_, others, [&](PoseIx pose) {
      return main_[pose.value] && !track_.clash(standing, pose);
    });
    Blocked blocked;
    for (const Place& other : others) {
      if (!any_of_place(ways_, other, open)) {
        blocked.places.push_back(short_name(floor_, other));
      }
    }
    std::set<PointIx> seen;
    for (const PoseIx pose : track_.clashes(standing)) {
      if (without_it[pose.value] && seen.insert(ways_[pose].at).second) {
        blocked.points.push_back(floor_[ways_[pose].at].id);
      }
    }
    return blocked;
  }

  /// Of the poses a cart can take there, the one that blocks least, and the one that blocks most.
  [[nodiscard]] std::pair<Blocked, Blocked> extremes(const Place& place) const {
    std::optional<Blocked> least, most;
    const auto weight = [](const Blocked& b) {
      return std::pair{b.places.size(), b.points.size()};
    };
    for (const PoseIx pose : ways_.poses_at(place.point)) {
      if (!main_[pose.value]) continue;
      const Blocked here = blocked_by(place, pose);
      if (!least || weight(here) < weight(*least)) least = here;
      if (!most || weight(*most) < weight(here)) most = here;
    }
    return {least.value_or(Blocked{}), most.value_or(Blocked{})};
  }

  void inspect_siding(const Place& place) {
    const auto [least, most] = extremes(place);
    if (most.nothing()) return;
    Finding finding;
    finding.severity = least.places.empty() ? Severity::costs : Severity::forbids;
    finding.kind = "no-siding";
    finding.place = describe(floor_, place);
    if (!place.stations.empty()) finding.place += ", a siding";
    finding.at = floor_[place.point].at;
    finding.figure =
        most.places.empty()
            ? "A cart that rests there keeps others from " + counted(most.points.size(), "point") +
                  " on their ways: " + listed(most.points) + "."
            : "A cart that rests there cuts off " + counted(most.places.size(), "other place") +
                  ": " + listed(most.places) + ".";
    if (least.nothing()) finding.figure += " (Not if it came by another way.)";
    finding.rule = "A cart at rest lies clear of every way between other places.";
    finding.source =
        "places of rest must not cut others' ways (Cap, Novak, Kleiner, Selecky 2015, "
        "well-formed infrastructure); bodies with clearance, swept";
    finding.remedy =
        "Move the siding away from the way by a body's length and its clearance, or don't call "
        "it a siding.";
    findings_.push_back(std::move(finding));
  }

  void inspect_station(const Place& place) {
    const auto [least, most] = extremes(place);
    if (least.places.empty()) return;
    findings_.push_back({.severity = Severity::note,
                         .kind = "station-in-the-way",
                         .place = describe(floor_, place),
                         .at = floor_[place.point].at,
                         .figure = "A cart that stands there cuts off " +
                                   counted(least.places.size(), "other place") + ": " +
                                   listed(least.places) + ".",
                         .rule = "A cart that is loaded or unloaded lets others pass.",
                         .source = no_source,
                         .remedy = "Lay the station beside the way, on tape of its own with a fork "
                                   "before and a merge behind, if waiting there costs too much."});
  }

  void inspect_charger(const Place& place) {
    const auto [least, most] = extremes(place);
    std::string id;
    for (const Charger& charger : floor_.chargers) {
      if (charger.point == place.point) id = charger.id;
    }
    findings_.push_back(
        {.severity = Severity::costs,
         .kind = "no-charger",
         .place = "charger " + id + " at " + floor_[place.point].id,
         .at = floor_[place.point].at,
         .figure = "Its point is no siding, so no cart is sent there to charge." +
                   (least.places.empty() ? std::string{}
                                         : " Standing there it would cut off " +
                                               counted(least.places.size(), "other place") + "."),
         .rule = "A charger is at a siding, because a cart stands there for an hour or more.",
         .source = no_source,
         .remedy = "Mark the point as a siding if it is one, or move the charger to a siding."});
  }

  const Track& track_;
  const Ways& ways_;
  const Floor& floor_;
  std::vector<Finding>& findings_;
  std::vector<Place> places_;
  std::vector<bool> main_;
};

}  // namespace

void inspect_rests(const Track& track, std::vector<Finding>& findings) {
  Rests{track, findings}.inspect();
}

}  // namespace tagline::floor
