// Every finding of the inspection: a floor that has just this fault, and one that does not.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "server/floor/inspection.hpp"
#include "tests/support/small_floors.hpp"
#include "tests/unit/track/site.hpp"

namespace tagline::floor {
namespace {

using test::FloorBuilder;
using test::Site;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

/// A loop on which nothing is amiss: along the bottom a bypass with the siding R, along the top one
/// with the station CAST, on the right one with DRY.
FloorBuilder sound() {
  FloorBuilder b;
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 6500, 0).point("D", 10'000, 0);
  b.point("E", 13'000, 0).point("F", 13'000, 3500).point("G", 13'000, 7000);
  b.point("H", 13'000, 11'000).point("I", 10'000, 11'000).point("J", 6500, 11'000);
  b.point("K", 3000, 11'000).point("L", 0, 11'000);
  b.point("R", 6500, -1500).siding();
  b.point("S", 6500, 12'500).point("T", 14'500, 3500);
  const char* const round[] = {"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L"};
  for (std::size_t i = 0; i < 12; ++i) {
    b.segment(std::string(round[i]) + round[(i + 1) % 12], round[i], round[(i + 1) % 12]);
  }
  b.segment("BR", "B", "R").via({{4500, -1500}}).segment("RD", "R", "D").via({{8500, -1500}});
  b.segment("ET", "E", "T").via({{14'500, 1500}}).segment("TG", "T", "G").via({{14'500, 5500}});
  b.segment("IS", "I", "S").via({{8500, 12'500}}).segment("SK", "S", "K").via({{4500, 12'500}});
  b.station("CAST", "S").station("DRY", "T").charger("C1", "R");
  return b;
}

std::vector<Finding> findings_of(const FloorBuilder& builder) {
  const Site site{builder};
  return inspect(site.track).findings;
}

/// "costs no-tag: point C".
std::vector<std::string> found(const FloorBuilder& builder) {
  std::vector<std::string> result;
  for (const Finding& finding : findings_of(builder)) {
    result.push_back(std::string(name_of(finding.severity)) + " " + finding.kind + ": " +
                     finding.place);
    EXPECT_FALSE(finding.figure.empty() || finding.rule.empty() || finding.source.empty() ||
                 finding.remedy.empty())
        << result.back();
  }
  return result;
}

std::string figure(const FloorBuilder& builder, const std::string& kind) {
  for (const Finding& finding : findings_of(builder)) {
    if (finding.kind == kind) return finding.figure;
  }
  return "none";
}

TEST(Findings, OfASoundFloorAreNone) { EXPECT_THAT(found(sound()), IsEmpty()); }

TEST(Findings, UnreachableStation) {
  FloorBuilder b = sound();
  b.point("X", -3000, 0).segment("XA", "X", "A").station("PACK", "X");
  EXPECT_THAT(found(b), ElementsAre("forbids unreachable: station PACK at X",
                                    "note unused: segment XA, X to A"));
  EXPECT_EQ(figure(b, "unreachable"), "No segment leads there at all.");
  // A siding that can't be reached only costs.
  FloorBuilder siding = sound();
  siding.point("X", -3000, 0).siding().segment("XA", "X", "A");
  EXPECT_THAT(found(siding), Contains("costs unreachable: siding X"));
}

TEST(Findings, StationWithoutReturn) {
  FloorBuilder b = sound();
  b.point("X", 16'000, 14'000).segment("HX", "H", "X").station("PACK", "X");
  EXPECT_THAT(found(b), ElementsAre("forbids no-return: station PACK at X",
                                    "note unused: segment HX, H to X"));
  EXPECT_THAT(figure(b, "no-return"), HasSubstr("to 3 of the 3 other stations and sidings"));
  // As a spur it is left backwards.
  FloorBuilder spur = sound();
  spur.point("X", 13'000, 14'000).segment("HX", "H", "X").spur().station("PACK", "X");
  EXPECT_THAT(found(spur), IsEmpty());
}

TEST(Findings, StationsThatReachEachOtherOnlyOneWay) {
  // Two loops, with a way from the one to the other and none back.
  FloorBuilder b = sound();
  b.point("W", 16'000, 11'000).point("X", 20'000, 11'000).point("Y", 20'000, 15'000);
  b.point("Z", 16'000, 15'000).segment("HW", "H", "W").segment("WX", "W", "X");
  b.segment("XY", "X", "Y").segment("YZ", "Y", "Z").segment("ZW", "Z", "W");
  b.station("PACK", "Y");
  EXPECT_THAT(found(b), Contains("forbids no-return: station PACK at Y"));
  EXPECT_THAT(found(b), Not(Contains(HasSubstr("unreachable"))));
}

TEST(Findings, PointsWithoutTags) {
  FloorBuilder b = sound();
  b.point("X", -1500, 5500).without_tags();
  EXPECT_THAT(found(b), IsEmpty());  // no tape leads there
  b.segment("LX", "L", "X").segment("XA", "X", "A");
  EXPECT_THAT(found(b), Contains("costs no-tag: point X"));
  b.station("PACK", "X");
  EXPECT_THAT(found(b), Contains("forbids no-tag: station PACK at X"));
}

TEST(Findings, TooFastToRead) {
  FloorBuilder fast = sound();
  fast.cart_speed(501);
  EXPECT_THAT(found(fast), Contains(HasSubstr("costs too-fast-to-read: segments AB")));
  FloorBuilder just = sound();
  just.cart_speed(500);
  EXPECT_THAT(found(just), Not(Contains(HasSubstr("too-fast-to-read"))));
  // One segment with a limit of its own.
  FloorBuilder slow = sound();
  slow.cart_speed(800);
  EXPECT_THAT(figure(slow, "too-fast-to-read"), HasSubstr("At 800 mm/s a tag is in sight for 62"));
}

/// `sound` with the segment LA parted `apart` mm before A.
FloorBuilder with_point_before_a(double apart) {
  FloorBuilder b = sound();
  b.point("X", -2000, apart).point("Y", -2000, 0).point("Z", -2000, 5000);
  b.segment("LZ", "L", "Z").segment("ZX", "Z", "X").segment("XY", "X", "Y").segment("YA", "Y", "A");
  return b;
}

TEST(Findings, TagsTooClose) {
  // A stop may end 150 mm beyond a tag, and the next one is seen 25 mm before it.
  EXPECT_THAT(found(with_point_before_a(174)),
              Contains("costs tags-too-close: segment XY, X to Y"));
  EXPECT_THAT(found(with_point_before_a(175)), Not(Contains(HasSubstr("tags-too-close"))));
  // 2 m/s: 50 mm of window and 200 mm driven while it is read.
  FloorBuilder fast = with_point_before_a(249);
  fast.cart_speed(2000);
  EXPECT_THAT(found(fast), Contains("costs tags-too-close: segment XY, X to Y"));
}

TEST(Findings, ForeignTag) {
  FloorBuilder b = sound();
  b.point("X", 1500, 40);
  EXPECT_THAT(found(b), ElementsAre("forbids foreign-tag: point X beside segment AB"));
  FloorBuilder apart = sound();
  apart.point("X", 1500, 60);
  EXPECT_THAT(found(apart), IsEmpty());
}

/// A fork at B that parts again `apart` mm further on the bypass.
FloorBuilder two_forks(double apart) {
  FloorBuilder b = sound();
  b.point("P", 4000, -3000).point("Q", 4000, -3000 - apart).point("X", 6500, -3000);
  b.point("Y", 6500, -6000).point("Z", 20'000, -3000);
  b.segment("BP", "B", "P").segment("PX", "P", "X").segment("PQ", "P", "Q");
  b.segment("QY", "Q", "Y").segment("QX", "Q", "X");
  b.segment("YZ", "Y", "Z").segment("XZ", "X", "Z").segment("ZG", "Z", "G").via({{20'000, 6500}});
  return b;
}

TEST(Findings, LateFork) {
  // 0.5 s at 400 mm/s, 400^2 / 1200 = 134 mm to stop, half the window of 50 mm: 359 mm.
  EXPECT_THAT(found(two_forks(358)), Contains("costs late-fork: fork Q"));
  EXPECT_THAT(figure(two_forks(358), "late-fork"),
              ::testing::AllOf(HasSubstr("358 mm"), HasSubstr("needed are 359 mm")));
  EXPECT_THAT(found(two_forks(359)), Not(Contains(HasSubstr("late-fork"))));
}

TEST(Findings, LateForkLooksPastTagsThatAreTooNear) {
  // The tag 200 mm before the fork is too near, the one before that is not.
  FloorBuilder b = sound();
  b.point("X", 2800, -4000).point("Y", 3000, -4000).point("W", 0, -4000);
  b.point("U", 6000, -4000).point("V", 6000, -6000);
  b.segment("AW", "A", "W").segment("WX", "W", "X").segment("XY", "X", "Y");
  b.segment("YU", "Y", "U").segment("YV", "Y", "V").via({{4000, -6000}});
  b.segment("UE", "U", "E").segment("VE", "V", "E").via({{10'000, -6000}});
  EXPECT_THAT(found(b), Not(Contains(HasSubstr("late-fork"))));
}

TEST(Findings, AmbiguousFork) {
  FloorBuilder b = sound();
  b.point("X", 6500, -4000).segment("BX", "B", "X").turn(Branch::right);
  b.segment("XD", "X", "D").via({{8000, -4000}});
  EXPECT_THAT(found(b), Not(Contains(HasSubstr("ambiguous-fork"))));
  b.point("Y", 6500, -6000).segment("BY", "B", "Y").turn(Branch::right);
  b.segment("YD", "Y", "D").via({{8000, -6000}});
  EXPECT_THAT(found(b), Contains("forbids ambiguous-fork: fork B"));
}

TEST(Findings, SidingThatIsNone) {
  // On the loop itself: who rests there cuts all others off.
  FloorBuilder on_the_loop = sound();
  on_the_loop.point("X", -2000, 5500).siding();
  on_the_loop.segment("LX", "L", "X");
  on_the_loop.segment("XA", "X", "A");
  EXPECT_THAT(found(on_the_loop), Not(Contains(HasSubstr("no-siding"))));  // L leads to A as well
  FloorBuilder b;
  b.point("A", 0, 0).siding().point("B", 5000, 0).point("C", 5000, 5000).point("D", 0, 5000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D").segment("DA", "D", "A");
  b.station("CAST", "B").station("DRY", "C");
  EXPECT_THAT(found(b), Contains("forbids no-siding: siding A"));
}

TEST(Findings, SidingTooNearToAWay) {
  // 500 mm between the tapes are just enough for bodies of 400 mm and 100 mm of clearance.
  const auto with_bay = [](double apart) {
    FloorBuilder b = sound();
    b.point("X", 6500, 11'000 - apart).siding();
    b.segment("IX", "I", "X").via({{8500, 11'000 - apart}});
    b.segment("XK", "X", "K").via({{4500, 11'000 - apart}});
    return b;
  };
  EXPECT_THAT(found(with_bay(500)), Not(Contains(HasSubstr("no-siding"))));
  // J is fouled, but there is the way over CAST.
  EXPECT_THAT(found(with_bay(490)), Contains("costs no-siding: siding X"));
  EXPECT_EQ(figure(with_bay(490), "no-siding"),
            "A cart that rests there keeps others from 1 point on their ways: J.");
}

TEST(Findings, ChargerThatIsNone) {
  FloorBuilder b = sound();
  b.charger("C2", "F");
  EXPECT_THAT(found(b), ElementsAre("costs no-charger: charger C2 at F"));
}

TEST(Findings, StationInTheWay) {
  FloorBuilder b = sound();
  b.station("PACK", "A");
  EXPECT_THAT(found(b), ElementsAre("note station-in-the-way: station PACK at A"));
}

TEST(Findings, SpurTooShort) {
  const auto with_spur = [](double depth) {
    FloorBuilder b = sound();
    b.point("X", 6500, depth).segment("CX", "C", "X").spur().station("PACK", "X");
    return b;
  };
  // 600 mm of body, 100 mm of clearance, 150 mm for stopping. But who stands at the mouth may have
  // its reader 150 mm into the spur, tail 350 mm before it: its axis lies at 23 degrees, and a
  // front corner 150 + 100 sin 23 + 200 cos 23 = 373 mm deep: 373 + 100 + 150 + 500 = 1123 mm.
  EXPECT_THAT(found(with_spur(849)), Contains("costs short-spur: spur to station PACK at X"));
  EXPECT_THAT(figure(with_spur(849), "short-spur"),
              ::testing::AllOf(HasSubstr("849 mm deep"), HasSubstr("needs 850 mm or more")));
  EXPECT_THAT(found(with_spur(1115)), Contains("costs short-spur: spur to station PACK at X"));
  EXPECT_THAT(figure(with_spur(1115), "short-spur"), HasSubstr("1115 mm deep, but"));
  EXPECT_THAT(found(with_spur(1140)), Not(Contains(HasSubstr("short-spur"))));
}

/// A two-way stretch XY with a room to turn in at its end. The way in leaves the loop at H and, if
/// `tag_before_it`, has a tag before the stretch at which a cart is clear of who comes out.
FloorBuilder two_way(bool tag_before_it) {
  FloorBuilder b = sound();
  b.point("W", 16'000, 12'500).point("X", 19'000, 14'000).point("Y", 23'000, 14'000).turn_round();
  b.point("Z", 16'000, 17'000).point("V", 0, 17'000);
  if (tag_before_it) {
    b.segment("HW", "H", "W").segment("WX", "W", "X");
  } else {
    b.segment("HX", "H", "X");
  }
  b.segment("XY", "X", "Y").two_way().segment("XZ", "X", "Z").segment("ZV", "Z", "V");
  b.segment("VL", "V", "L").station("PACK", "Y");
  return b;
}

TEST(Findings, TwoWayStretchWithoutAPlaceToPass) {
  EXPECT_THAT(found(two_way(false)),
              Contains("costs no-passing-place: end X of the two-way stretch XY"));
  EXPECT_THAT(found(two_way(true)), Not(Contains(HasSubstr("no-passing-place"))));
}

TEST(Findings, MergesWithoutAPlaceToWait) {
  // Without the tag C, who waits for the merge D does so at the fork B.
  FloorBuilder b = sound();
  b.point("X", 6500, 2000).segment("BX", "B", "X").via({{4500, 2000}});
  b.segment("XD", "X", "D").via({{8500, 2000}});
  EXPECT_THAT(found(b), IsEmpty());
  FloorBuilder fork = sound();
  fork.segment("BD", "B", "D").via({{4500, 2000}, {8500, 2000}});
  EXPECT_THAT(found(fork), ElementsAre("costs wait-at-fork: merge D, coming by BD"));
  // P and O have no tags, and N is 60 m back: nobody waits that far off.
  const auto long_way = [](bool tag) {
    FloorBuilder none;
    none.point("M", 0, 0).point("N", 10'000, 0).point("O", 10'000, 25'000).without_tags();
    none.point("P", 0, 25'000);
    if (!tag) none.without_tags();
    none.point("Q", 10'000, -3000).segment("MN", "M", "N").segment("NO", "N", "O");
    none.segment("OP", "O", "P").segment("PM", "P", "M").segment("NQ", "N", "Q");
    none.segment("QM", "Q", "M").via({{-3000, -3000}, {-3000, 0}});
    return none;
  };
  EXPECT_THAT(found(long_way(false)), Contains("costs no-waiting-place: merge M, coming by PM"));
  EXPECT_THAT(found(long_way(true)), Not(Contains(HasSubstr("-waiting-place"))));
}

TEST(Findings, UnusedTape) {
  FloorBuilder b = sound();
  b.point("X", 6500, 4000).segment("CX", "C", "X");
  EXPECT_THAT(found(b), ElementsAre("note unused: segment CX, C to X"));
  b.segment("XJ", "X", "J");
  EXPECT_THAT(found(b), Not(Contains(HasSubstr("unused"))));
}

TEST(Findings, OfTheSmallFloorsForbidNothing) {
  for (const Floor& floor : test::small_floors()) {
    const Site site{floor};
    for (const Finding& finding : inspect(site.track).findings) {
      EXPECT_NE(finding.severity, Severity::forbids) << floor.name << ": " << finding.place;
    }
  }
}

TEST(Findings, ComeBySeverity) {
  FloorBuilder b = sound();
  b.point("X", 6500, 4000).segment("CX", "C", "X").charger("C2", "F").point("Y", 1500, 40);
  EXPECT_THAT(found(b), ElementsAre(HasSubstr("forbids foreign-tag"), HasSubstr("costs no-charger"),
                                    HasSubstr("note unused")));
}

}  // namespace
}  // namespace tagline::floor
