// Poses, paths and floors as text.
#include <gmock/gmock.h>

#include <algorithm>
#include <set>

#include "server/store/floor_text.hpp"
#include "server/store/path_text.hpp"
#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::HasSubstr;

TEST(PoseText, EveryPoseOfAFloorComesBackFromItsOwnText) {
  const Works works;
  std::set<std::string> texts;
  ASSERT_GT(works.ways.pose_count(), works.floor.segments.size());
  for (std::uint32_t ix = 0; ix < works.ways.pose_count(); ++ix) {
    const std::string text = pose_text(works.ways, PoseIx{ix});
    EXPECT_TRUE(texts.insert(text).second) << text;
    EXPECT_EQ(pose_from(works.ways, text), PoseIx{ix}) << text;
  }
  // The spur's end, by hand: once by the loop, once by the shortcut driven against its direction.
  EXPECT_TRUE(texts.contains("K/S5>@B/S1>"));
  EXPECT_TRUE(texts.contains("K/S5>@B/S6<"));
}

TEST(PoseText, WhatTheFloorLacksIsNoPose) {
  const Works works;
  ASSERT_TRUE(pose_from(works.ways, "B/S1>"));
  for (const char* text : {"", "B", "B/", "B/S1", "B/S1<", "X/S1>", "B/S9>", "C/S1>", "K/S5>",
                           "K/S5>@B/S9>", "K/S5>@", "B/S1>@A/S4>", "B/S1>x"}) {
    EXPECT_EQ(pose_from(works.ways, text), std::nullopt) << text;
  }
}

TEST(PathText, ComesBackFromAnyStepOn) {
  const Works works;
  const auto path = path_to(works.ways, "K", 41);
  const std::string text = path_text(works.ways, path);
  EXPECT_EQ(text, "\n41 A/S4> go\n42 B/S1> go\n43 K/S5>@B/S1> rest");
  EXPECT_THAT(text, HasSubstr(step_at_point(42, "B")));

  const PathRead whole = path_from(works.ways, text, 0);
  EXPECT_FALSE(whole.broken);
  EXPECT_EQ(fields(whole.path), fields(path));
  const PathRead rest = path_from(works.ways, text, 42);
  EXPECT_EQ(fields(rest.path), fields({path[1], path[2]}));
}

TEST(PathText, AStepThatCannotBeReadBreaksThePathButKeepsItsPoint) {
  const Works works;
  for (const char* broken : {"\n41 A/S4> go\n42 B/S9> go", "\n41 A/S4> go\n42 B/S1> fly",
                             "\n41 A/S4> go\nx B/S1> go", "\n41 A/S4> go\n42 B/S1>"}) {
    const PathRead read = path_from(works.ways, broken, 0);
    EXPECT_TRUE(read.broken) << broken;
    EXPECT_EQ(read.points.size(), 2U) << broken;
  }
}

TEST(FloorText, OrderNamesSpeedsAndTagsMakeNoDifference) {
  const floor::Floor before = small_works();
  floor::Floor after = before;
  after.name = "Renamed";
  after.stations[0].name = "Slip casting";
  after.stations[0].load = Duration{90'000};
  after.stations[0].capacity = 2;
  after.segments[0].speed = MmPerS{200};
  after.cart.speed = MmPerS{300};
  after.points[0].tags = {"04FFFFFF"};
  after.points[0].at.x = -0.0;
  after.demand.push_back({StationIx{0}, StationIx{1}, 6});
  std::reverse(after.segments.begin(), after.segments.end());
  std::reverse(after.stations.begin(), after.stations.end());
  EXPECT_EQ(floor_text(before), floor_text(after));
  EXPECT_EQ(floor_difference(floor_text(before), floor_text(after)), "");
  EXPECT_EQ(moved_tag(tag_text(before), tag_text(after)), "");
}

TEST(FloorText, EverythingThatCarriesAPathMakesADifference) {
  const std::string before = floor_text(small_works());
  const std::vector<std::pair<std::string, void (*)(floor::Floor&)>> changes{
      {"body length", [](floor::Floor& f) { f.cart.length = Mm{700}; }},
      {"body width", [](floor::Floor& f) { f.cart.width = Mm{500}; }},
      {"reader", [](floor::Floor& f) { f.cart.reader_to_nose = Mm{50}; }},
      {"clearance", [](floor::Floor& f) { f.cart.clearance = Mm{200}; }},
      {"point id", [](floor::Floor& f) { f.points[2].id = "C2"; }},
      {"point x", [](floor::Floor& f) { f.points[2].at.x += 0.5; }},
      {"siding", [](floor::Floor& f) { f.points[2].siding = true; }},
      {"turn round", [](floor::Floor& f) { f.points[2].turn_round = true; }},
      {"segment id", [](floor::Floor& f) { f.segments[1].id = "S9"; }},
      {"segment ends", [](floor::Floor& f) { std::swap(f.segments[5].from, f.segments[5].to); }},
      {"segment length", [](floor::Floor& f) { f.segments[1].length = Mm{3001}; }},
      {"two-way", [](floor::Floor& f) { f.segments[1].two_way = true; }},
      {"spur", [](floor::Floor& f) { f.segments[4].spur = false; }},
      {"via",
       [](floor::Floor& f) {
         f.segments[1].via.push_back({4100, 1000});
       }},
      {"turn", [](floor::Floor& f) { f.segments[1].turn = floor::Branch::left; }},
      {"station", [](floor::Floor& f) { f.stations[2].point = PointIx{3}; }},
      {"charger",
       [](floor::Floor& f) {
         f.chargers.push_back({"L1", PointIx{3}});
       }},
      {"conflict", [](floor::Floor& f) { f.conflicts.emplace_back(SegmentIx{1}, SegmentIx{3}); }}};
  for (const auto& [what, change] : changes) {
    floor::Floor after = small_works();
    change(after);
    EXPECT_NE(floor_difference(before, floor_text(after)), "") << what;
  }
}

TEST(FloorText, ADifferenceNamesThePlace) {
  floor::Floor after = small_works();
  after.segments[1].length = Mm{3500};
  EXPECT_EQ(floor_difference(floor_text(small_works()), floor_text(after)),
            "1 entries gone or altered, 1 new or altered; was \"segment S2 B C 3000\"; is "
            "\"segment S2 B C 3500\"");
}

TEST(FloorText, ATagThatMarksAnotherPointIsNamed) {
  floor::Floor after = small_works();
  std::swap(after.points[0].tags, after.points[1].tags);
  EXPECT_EQ(moved_tag(tag_text(small_works()), tag_text(after)),
            "tag 04A1B2C3 marked point A and marks point B now");
}

}  // namespace
}  // namespace tagline::store::test
