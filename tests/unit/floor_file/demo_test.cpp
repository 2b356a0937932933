// The demo works: everything it promises is there, every cart gets everywhere, and a cart that
// stands in a siding or at a station is in nobody's way.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>

#include "server/floor/track.hpp"
#include "support.hpp"

namespace tagline::floor::testing {
namespace {

using ::testing::IsEmpty;

class Demo : public ::testing::Test {
 protected:
  const Floor floor_ = floor_in(read_file("deploy/demo.floor.json"));
  const Ways ways_{floor_};
  const Track track_{ways_};

  std::vector<PointIx> sidings() const {
    std::vector<PointIx> points;
    for (std::uint32_t p = 0; p < floor_.points.size(); ++p) {
      if (floor_.points[p].siding) points.push_back({p});
    }
    return points;
  }
  std::vector<PointIx> stations_and_sidings() const {
    std::vector<PointIx> places = sidings();
    for (const Station& station : floor_.stations) places.push_back(station.point);
    return places;
  }
  /// All pieces a cart in `pose` keeps others from.
  std::set<PieceIx> taken_by(PoseIx pose) const {
    std::set<PieceIx> pieces;
    for (const PieceIx piece : track_.cover(pose)) {
      pieces.insert(piece);
      const auto conflicts = track_.conflicts(piece);
      pieces.insert(conflicts.begin(), conflicts.end());
    }
    return pieces;
  }
  bool is_clear(PoseIx pose, const std::set<PieceIx>& taken) const {
    const auto cover = track_.cover(pose);
    return std::none_of(cover.begin(), cover.end(),
                        [&](PieceIx piece) { return taken.count(piece) > 0; });
  }
  /// "P1>P9" for each two places between which no way is left.
  std::vector<std::string> cut_off(const std::vector<PointIx>& places,
                                   const std::set<PieceIx>& taken) const {
    std::vector<std::string> cut;
    for (const PointIx start : places) {
      for (const PoseIx pose : ways_.poses_at(start)) {
        const auto times =
            times_from(ways_, pose, [&](PoseIx next) { return is_clear(next, taken); });
        for (const PointIx goal : places) {
          const auto goals = ways_.poses_at(goal);
          if (std::none_of(goals.begin(), goals.end(),
                           [&](PoseIx end) { return times[end.value] != Duration::max(); })) {
            cut.push_back(floor_[start].id + ">" + floor_[goal].id);
          }
        }
      }
    }
    return cut;
  }
};

TEST_F(Demo, HasWhatThePotteryWorksPromises) {
  expect_whole(floor_);
  EXPECT_EQ(floor_.name, "Pottery works, ground floor");
  EXPECT_EQ(floor_.stations.size(), 8U);
  for (const char* id : {"CAST", "DRY", "PACK"}) EXPECT_TRUE(floor_.find_station(id)) << id;
  EXPECT_EQ(sidings().size(), 6U);
  EXPECT_EQ(floor_.chargers.size(), 4U);
  for (const Charger& charger : floor_.chargers) EXPECT_TRUE(floor_[charger.point].siding);
  for (const Point& point : floor_.points) EXPECT_THAT(point.tags, Not(IsEmpty())) << point.id;
  const auto is_two_way = [](const Segment& segment) { return segment.two_way; };
  const auto is_spur = [](const Segment& segment) { return segment.spur; };
  EXPECT_TRUE(std::any_of(floor_.segments.begin(), floor_.segments.end(), is_two_way));
  EXPECT_TRUE(std::any_of(floor_.segments.begin(), floor_.segments.end(), is_spur));
  double jobs_per_hour = 0;
  for (const Demand& flow : floor_.demand) jobs_per_hour += flow.per_hour;
  EXPECT_DOUBLE_EQ(jobs_per_hour, 40);
}

TEST_F(Demo, HasMergesAndACrossing) {
  std::map<PointIx, int> ways_in;
  for (const Segment& segment : floor_.segments) {
    if (!segment.two_way && !segment.spur) ++ways_in[segment.to];
  }
  const auto merges = std::count_if(ways_in.begin(), ways_in.end(),
                                    [](const auto& entry) { return entry.second > 1; });
  EXPECT_GE(merges, 3);

  // Two tapes that cross without a point in common, found from the geometry alone.
  const auto ends_of = [](const Segment& segment) {
    return std::set<PointIx>{segment.from, segment.to};
  };
  int crossings = 0;
  for (std::uint32_t s = 0; s < floor_.segments.size(); ++s) {
    for (const PieceIx other : track_.conflicts(track_.piece(SegmentIx{s}))) {
      if (track_.is_point(other) || other <= track_.piece(SegmentIx{s})) continue;
      auto ends = ends_of(floor_.segments[s]);
      ends.merge(ends_of(
          *std::find_if(floor_.segments.begin(), floor_.segments.end(),
                        [&](const Segment& segment) { return segment.id == track_.name(other); })));
      crossings += ends.size() == 4 ? 1 : 0;
    }
  }
  EXPECT_EQ(crossings, 1);
}

TEST_F(Demo, SegmentsAreLongEnoughForABodyAndShortEnoughToShare) {
  std::size_t usual = 0;
  for (const Segment& segment : floor_.segments) {
    EXPECT_GE(segment.length, Mm{900}) << segment.id;
    EXPECT_LE(segment.length, Mm{5000}) << segment.id;
    usual += segment.length <= Mm{4000} ? 1 : 0;
  }
  EXPECT_GE(10 * usual, 9 * floor_.segments.size());
}

TEST_F(Demo, EveryStationAndSidingReachesEveryOther) {
  EXPECT_THAT(cut_off(stations_and_sidings(), {}), IsEmpty());
}

TEST_F(Demo, ACartInASidingOrAtAStationCutsNobodyOff) {
  for (const PointIx taken : stations_and_sidings()) {
    std::vector<PointIx> others = stations_and_sidings();
    std::erase(others, taken);
    for (const PoseIx pose : ways_.poses_at(taken)) {
      EXPECT_THAT(cut_off(others, taken_by(pose)), IsEmpty()) << floor_[taken].id;
    }
  }
}

TEST_F(Demo, FiveCartsInSidingsLeaveEveryWayOpen) {
  std::set<PieceIx> taken;
  std::vector<PointIx> free = stations_and_sidings();
  for (const char* home : {"B1", "B2", "B3", "B4", "B5"}) {
    const PointIx point = floor_.find_point(home).value();
    taken.merge(taken_by(ways_.poses_at(point).front()));
    std::erase(free, point);
  }
  EXPECT_THAT(cut_off(free, taken), IsEmpty());
}

TEST_F(Demo, TheFirstPointPastAForkIsClearOfTheOtherBranches) {
  for (std::uint32_t p = 0; p < ways_.pose_count(); ++p) {
    for (const Move& move : ways_.moves_from({p})) {
      for (const Move& other : ways_.moves_from({p})) {
        if (move.segment == other.segment) continue;
        EXPECT_TRUE(is_clear(other.to, taken_by(move.to)))
            << "at " << floor_[ways_[move.to].at].id << " in the way to "
            << floor_[ways_[other.to].at].id;
        if (move.gear == Gear::forward && other.gear == Gear::forward) {
          EXPECT_NE(move.branch, other.branch) << floor_[ways_[{p}].at].id;
        }
      }
    }
  }
}

TEST_F(Demo, TheLastPointBeforeAMergeIsClearOfTheOtherBranches) {
  for (std::uint32_t p = 0; p < floor_.points.size(); ++p) {
    std::vector<const Move*> arrivals;
    for (const PoseIx pose : ways_.poses_at({p})) {
      for (const Move& move : ways_.moves_to(pose)) {
        if (move.gear == Gear::forward) arrivals.push_back(&move);
      }
    }
    for (const Move* waiting : arrivals) {
      for (const Move* driving : arrivals) {
        if (waiting->segment == driving->segment) continue;
        EXPECT_TRUE(is_clear(driving->to, taken_by(waiting->from)))
            << "waiting at " << floor_[ways_[waiting->from].at].id << " for "
            << floor_.points[p].id;
      }
    }
  }
}

TEST_F(Demo, FleetStandsInItsSidings) {
  const Json fleet = Json::parse(read_file("deploy/demo.fleet.json"));
  EXPECT_EQ(fleet.at("format"), "tagline-fleet/1");
  ASSERT_EQ(fleet.at("carts").size(), 5U);
  std::set<std::string> ids, keys, homes;
  for (const auto& cart : fleet.at("carts")) {
    ids.insert(cart.at("id"));
    keys.insert(cart.at("key"));
    homes.insert(cart.at("home"));
    EXPECT_EQ(cart.at("key").get<std::string>().size(), 32U);
    const auto home = floor_.find_point(cart.at("home").get<std::string>());
    ASSERT_TRUE(home);
    EXPECT_TRUE(floor_[*home].siding);
  }
  EXPECT_EQ(ids.size(), 5U);
  EXPECT_EQ(keys.size(), 5U);
  EXPECT_EQ(homes.size(), 5U);
}

}  // namespace
}  // namespace tagline::floor::testing
