// Foul distances and waiting places, worked out by hand and against Boost.Geometry polygons put
// down at random. The cart of FloorBuilder: 600 x 400, reader 100 behind the nose, clearance 100.
#include "server/floor/merges.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <cmath>
#include <numbers>
#include <random>

#include "server/floor/body.hpp"
#include "tests/support/random_floor.hpp"
#include "tests/support/small_floors.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using test::Site;

/// Straight tape from the west into M, and tape that comes into M with `degrees` between them, from
/// the south-west; on to the east, or nowhere on. Tags every metre on both.
FloorBuilder merge_at(double degrees, bool goes_on = true) {
  FloorBuilder builder;
  const double a = degrees * std::numbers::pi / 180;
  for (int i = 5; i >= 1; --i) {
    const std::string n = std::to_string(i);
    builder.point("A" + n, -1000.0 * i, 0);
    builder.point("B" + n, -1000.0 * i * std::cos(a), -1000.0 * i * std::sin(a));
  }
  builder.point("M", 0, 0);
  if (goes_on) builder.point("N", 3000, 0).segment("MN", "M", "N");
  for (const std::string l : {"A", "B"}) {
    for (int i = 5; i >= 2; --i) {
      const std::string n = std::to_string(i);
      builder.segment(l + "S" + n, l + n, l + std::to_string(i - 1));
    }
    builder.segment(l + "M", l + "1", "M");
  }
  return builder;
}

const Approach& approach_by(const Site& site, const Merge& merge, const std::string& segment) {
  for (const Approach& approach : merge.approaches) {
    if (site.floor[site.ways[approach.pose].by].id == segment) return approach;
  }
  throw std::invalid_argument(segment);
}

double foul(const Approach& approach) {
  return approach.foul ? static_cast<double>(approach.foul->value) : -1;
}

TEST(Merges, AtARightAngle) {
  // The side of the other body reaches 200 mm, 100 mm are to be free, the nose is 100 mm ahead.
  const Site site{merge_at(90, false)};
  const auto merges = find_merges(site.track);
  ASSERT_EQ(merges.size(), 1U);
  EXPECT_EQ(site.floor[merges[0].point].id, "M");
  EXPECT_NEAR(foul(approach_by(site, merges[0], "AM")), 400, 1);
  EXPECT_NEAR(foul(approach_by(site, merges[0], "BM")), 400, 1);
}

TEST(Merges, AtAnyAngle) {
  // With w half the width, c the clearance and n how far the nose is ahead of the reader, the
  // nearer front corner is just w + c off the other's middle line where
  //   (d - n) sin a - w cos a = w + c.
  for (const double degrees : {20.0, 30.0, 45.0, 60.0, 75.0, 90.0}) {
    const double a = degrees * std::numbers::pi / 180;
    const double by_hand = 100 + (200 + 100 + 200 * std::cos(a)) / std::sin(a);
    if (degrees == 45) {
      EXPECT_NEAR(by_hand, 300 * std::numbers::sqrt2 + 300, 1e-9);
    }
    const Site end{merge_at(degrees, false)};
    const Merge both_end = find_merges(end.track).at(0);
    EXPECT_NEAR(foul(approach_by(end, both_end, "AM")), by_hand, 1.5) << degrees;
    EXPECT_NEAR(foul(approach_by(end, both_end, "BM")), by_hand, 1.5) << degrees;
    // Where the way goes on to the east, who comes from the west still drives straight on.
    const Site on{merge_at(degrees)};
    EXPECT_NEAR(foul(approach_by(on, find_merges(on.track).at(0), "BM")), by_hand, 1.5) << degrees;
  }
}

TEST(Merges, TheTailOfWhoTurnsSwingsOut) {
  // Reader r beyond M, tail 500 - r before it, 90 degrees: the chord is shorter than the body,
  // whose rear so swings to the west. At r = 250 the axis lies at 45 degrees, and the rear left
  // corner at x = 250 - 500/sqrt2 - 200/sqrt2 = -245: 45 mm further out than the side of a straight
  // body.
  const Site site{merge_at(90)};
  EXPECT_NEAR(foul(approach_by(site, find_merges(site.track).at(0), "AM")), 445, 2);
}

TEST(Merges, TheWaitingPlaceIsTheLastTagBeforeTheFoulingBegins) {
  // 90 degrees: 400 mm and 150 mm of slack are well within 1000 mm.
  const Site wide{merge_at(90)};
  const Merge merge = find_merges(wide.track).at(0);
  for (const char* by : {"AM", "BM"}) {
    const Approach& approach = approach_by(wide, merge, by);
    ASSERT_TRUE(approach.wait) << by;
    EXPECT_EQ(approach.wait->before, Mm{1000});
    EXPECT_FALSE(approach.wait->at_fork);
  }
  // 20 degrees: 100 + (300 + 188) / 0.342 = 1527 mm: the tag at 1000 is too near, the next is not.
  const Site narrow{merge_at(20)};
  const Merge near = find_merges(narrow.track).at(0);
  ASSERT_TRUE(approach_by(narrow, near, "AM").wait);
  EXPECT_EQ(approach_by(narrow, near, "AM").wait->before, Mm{2000});
}

TEST(Merges, APlaceWithoutATagIsNoWaitingPlace) {
  FloorBuilder builder;
  builder.point("A2", -2000, 0).point("A1", -1000, 0).without_tags().point("M", 0, 0);
  builder.point("A3", -3000, 0).point("B1", 0, -1000).point("B2", 0, -2000).point("N", 2000, 0);
  builder.segment("AS3", "A3", "A2").segment("AS2", "A2", "A1").segment("AM", "A1", "M");
  builder.segment("BS2", "B2", "B1").segment("BM", "B1", "M").segment("MN", "M", "N");
  const Site site{builder};
  const Merge merge = find_merges(site.track).at(0);
  ASSERT_TRUE(approach_by(site, merge, "AM").wait);
  EXPECT_EQ(approach_by(site, merge, "AM").wait->before, Mm{2000});
}

TEST(Merges, WithoutTrackBeforeItThereIsNoWaitingPlace) {
  FloorBuilder builder;
  builder.point("A0", -1300, 0).point("A1", -300, 0).point("M", 0, 0).point("N", 3000, 0);
  builder.point("B0", 0, -3000).point("B1", 0, -1500);
  builder.segment("A", "A0", "A1").segment("AM", "A1", "M").segment("MN", "M", "N");
  builder.segment("B", "B0", "B1").segment("BM", "B1", "M");
  const Site site{builder};
  const Merge merge = find_merges(site.track).at(0);
  EXPECT_FALSE(approach_by(site, merge, "AM").wait);  // at A1 it fouls, and no tape leads to A0
  EXPECT_TRUE(approach_by(site, merge, "BM").wait);
}

TEST(Merges, AForkBetweenIsSeen) {
  // F parts; its straight way comes back to the other at M, 1.2 m on: who waits does so at F.
  FloorBuilder builder;
  builder.point("E", -5000, 0).point("F", -1200, 0).point("M", 0, 0).point("N", 3000, 0);
  builder.point("G", -1000, 2000).point("B0", 0, -3000).point("B1", 0, -1500);
  builder.point("D", -9000, 0).segment("DE", "D", "E").segment("EF", "E", "F");
  builder.segment("FM", "F", "M").segment("FG", "F", "G").segment("MN", "M", "N");
  builder.segment("B", "B0", "B1").segment("BM", "B1", "M");
  const Site site{builder};
  const Merge merge = find_merges(site.track).at(0);
  const Approach& approach = approach_by(site, merge, "FM");
  ASSERT_TRUE(approach.wait);
  EXPECT_TRUE(approach.wait->at_fork);
  EXPECT_EQ(site.floor[site.ways[approach.wait->pose].at].id, "F");
}

TEST(Merges, MeetingHeadOnOnTwoWayTapeIsNone) {
  const Site site{FloorBuilder{}
                      .point("A", 0, 0)
                      .point("B", 3000, 0)
                      .point("C", 6000, 0)
                      .segment("AB", "A", "B")
                      .two_way()
                      .segment("BC", "B", "C")
                      .two_way()};
  EXPECT_TRUE(find_merges(site.track).empty());
}

TEST(Crossings, AtARightAngle) {
  FloorBuilder builder;
  builder.point("W1", -5000, 0).point("W", -2000, 0).point("E", 2000, 0);
  builder.point("S1", 0, -5000).point("S", 0, -2000).point("N", 0, 2000);
  builder.segment("W1W", "W1", "W").segment("WE", "W", "E");
  builder.segment("S1S", "S1", "S").segment("SN", "S", "N");
  const Site site{builder};
  const auto crossings = find_crossings(site.track);
  ASSERT_EQ(crossings.size(), 1U);
  EXPECT_NEAR(crossings[0].at.x, 0, 1e-9);
  EXPECT_NEAR(crossings[0].at.y, 0, 1e-9);
  ASSERT_EQ(crossings[0].approaches.size(), 2U);
  for (const Approach& approach : crossings[0].approaches) {
    ASSERT_TRUE(approach.foul);
    EXPECT_NEAR(static_cast<double>(approach.foul->value), 400, 1);
    ASSERT_TRUE(approach.wait);
    EXPECT_EQ(approach.wait->before, Mm{2000});
  }
}

TEST(Crossings, OnASlant) {
  // Both straight on: the front corner is 300 mm off the other's middle line: as at a merge.
  const double a = 50 * std::numbers::pi / 180;
  FloorBuilder builder;
  builder.point("W1", -5000, 0).point("W", -2500, 0).point("E", 3000, 0);
  builder.point("S1", -5000 * std::cos(a), -5000 * std::sin(a));
  builder.point("S", -2500 * std::cos(a), -2500 * std::sin(a));
  builder.point("N", 3000 * std::cos(a), 3000 * std::sin(a));
  builder.segment("W1W", "W1", "W").segment("WE", "W", "E");
  builder.segment("S1S", "S1", "S").segment("SN", "S", "N");
  const Site site{builder};
  const auto crossings = find_crossings(site.track);
  ASSERT_EQ(crossings.size(), 1U);
  for (const Approach& approach : crossings[0].approaches) {
    ASSERT_TRUE(approach.foul);
    EXPECT_NEAR(static_cast<double>(approach.foul->value),
                100 + (300 + 200 * std::cos(a)) / std::sin(a), 1.5);
  }
}

TEST(Crossings, TapesThatShareAnEndOrStayApartAreNone) {
  EXPECT_TRUE(find_crossings(Site{merge_at(90)}.track).empty());
  EXPECT_EQ(find_crossings(Site{test::figure_of_eight()}.track).size(), 1U);
  EXPECT_TRUE(find_crossings(Site{test::ladder()}.track).empty());
}

// ---- against Boost.Geometry
// ----------------------------------------------------------------------

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
using BgPolygon = bg::model::polygon<BgPoint>;

/// The body with its reader `before` mm before the end of the tapes, all by sums of our own: walks
/// the corners of the drawing, and takes reader and tail as the ends of the body's axis.
class Chain {
 public:
  Chain(const Floor& floor, const std::vector<SegmentIx>& segments) : body_{floor.cart} {
    for (const SegmentIx s : segments) {
      add(floor[floor[s].from].at);
      for (const Position& via : floor[s].via) add(via);
      add(floor[floor[s].to].at);
    }
  }
  [[nodiscard]] BgPolygon body(double before) const {
    const auto [rx, ry] = at(before);
    const double tail = static_cast<double>((body_.length - body_.reader_to_nose).value);
    const auto [tx, ty] = at(before + tail);
    const double chord = std::hypot(rx - tx, ry - ty);
    const double ux = (rx - tx) / chord;
    const double uy = (ry - ty) / chord;
    const double nose = static_cast<double>(body_.reader_to_nose.value);
    const double half = static_cast<double>(body_.width.value) / 2;
    BgPolygon polygon;
    for (const auto& [along, left] :
         {std::pair{-tail, -half}, {nose, -half}, {nose, half}, {-tail, half}, {-tail, -half}}) {
      polygon.outer().emplace_back(rx + along * ux - left * uy, ry + along * uy + left * ux);
    }
    bg::correct(polygon);
    return polygon;
  }

 private:
  void add(Position p) {
    if (corners_.empty() || std::hypot(p.x - corners_.back().x, p.y - corners_.back().y) > 0) {
      corners_.push_back(p);
    }
  }
  [[nodiscard]] std::pair<double, double> at(double before) const {
    std::size_t i = corners_.size() - 1;
    for (; i > 1; --i) {
      const double leg =
          std::hypot(corners_[i].x - corners_[i - 1].x, corners_[i].y - corners_[i - 1].y);
      if (before <= leg) break;
      before -= leg;
    }
    const Position& b = corners_[i];
    const Position& a = corners_[i - 1];
    const double leg = std::hypot(b.x - a.x, b.y - a.y);
    return {b.x - (b.x - a.x) * before / leg, b.y - (b.y - a.y) * before / leg};
  }
  CartBody body_;
  std::vector<Position> corners_;
};

TEST(Merges, AgreeWithPolygonsOfBoostGeometryOnRandomOnes) {
  std::mt19937 random{3};
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>{low, high}(random);
  };
  for (int round = 0; round < 60; ++round) {
    // Two bent tapes into M; no way on, so that M is where both end.
    FloorBuilder builder;
    builder.cart(std::llround(between(300, 1000)), std::llround(between(200, 600)),
                 std::llround(between(0, 150)));
    builder.point("M", 0, 0);
    const double first = between(0, 2 * std::numbers::pi);
    const double apart = between(0.6, 3);
    for (const auto& [l, angle] : {std::pair{"A", first}, {"B", first + apart}}) {
      const std::string n{l};
      builder.point(n + "1", 2200 * std::cos(angle), 2200 * std::sin(angle));
      builder.point(n + "0", 5200 * std::cos(angle), 5200 * std::sin(angle));
      builder.segment(n + "S", n + "0", n + "1").segment(n + "M", n + "1", "M");
      const double bend = angle + between(-0.12, 0.12);
      builder.via({{1100 * std::cos(bend), 1100 * std::sin(bend)}});
    }
    const Site site{builder};
    const Merge merge = find_merges(site.track).at(0);
    const double clearance = static_cast<double>(site.floor.cart.clearance.value);
    const Chain a{site.floor, {{0}, {1}}};
    const Chain b{site.floor, {{2}, {3}}};
    const auto fouls = [&](const Chain& own, const Chain& other, double before) {
      const BgPolygon body = own.body(before);
      for (double d = 0; d < 4000; d += 7) {
        if (bg::distance(body, other.body(d)) < clearance) return true;
      }
      return false;
    };
    for (const auto& [own, other, by] : {std::tuple{&a, &b, "AM"}, std::tuple{&b, &a, "BM"}}) {
      const Approach& approach = approach_by(site, merge, by);
      ASSERT_TRUE(approach.foul) << round;
      const auto at = static_cast<double>(approach.foul->value);
      EXPECT_GT(at, 0) << round;
      EXPECT_FALSE(fouls(*own, *other, at + 4)) << round << by;
      EXPECT_TRUE(fouls(*own, *other, at - 4)) << round << by;
      if (approach.wait) {
        // The tables keep a cart back at least as far, and as it may stand stop_slack beyond a tag.
        EXPECT_GE(static_cast<double>((approach.wait->before - stop_slack).value), at - 1) << round;
      }
    }
  }
}

TEST(Merges, WaitingPlacesOnSmallFloorsAreClear) {
  int places = 0;
  for (const Floor& floor : test::small_floors()) {
    const Site site{floor};
    for (const Merge& merge : find_merges(site.track)) {
      for (const Approach& approach : merge.approaches) {
        if (!approach.wait) continue;
        ++places;
        for (const Approach& other : merge.approaches) {
          if (other.pose == approach.pose) continue;
          EXPECT_FALSE(site.track.clash(approach.wait->pose, other.pose)) << floor.name;
        }
        if (approach.foul) {
          EXPECT_GE(approach.wait->before, *approach.foul) << floor.name;
        }
      }
    }
  }
  EXPECT_GT(places, 30);
}

}  // namespace
}  // namespace tagline::floor
