// What a good file becomes, default by default, and that it comes back the same when written.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support.hpp"

namespace tagline::floor::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

TEST(Good, ValuesAndDefaults) {
  const Floor floor = floor_in(small_floor().dump());
  expect_whole(floor);
  EXPECT_EQ(floor.name, "Small works");
  // Defaults: shared/floor-format.md.
  EXPECT_EQ(floor.cart.length, Mm{600});
  EXPECT_EQ(floor.cart.width, Mm{400});
  EXPECT_EQ(floor.cart.reader_to_nose, Mm{0});
  EXPECT_EQ(floor.cart.speed, MmPerS{400});
  EXPECT_EQ(floor.cart.acceleration, MmPerS2{300});
  EXPECT_EQ(floor.cart.deceleration, MmPerS2{600});
  EXPECT_EQ(floor.cart.clearance, Mm{100});

  EXPECT_THAT(floor.points[0].tags, ElementsAre("04A1B2C3", "1122334455"));
  EXPECT_EQ(floor.points[2].at, (Position{4000, 3000.5}));  // decimals of coordinates stay
  EXPECT_TRUE(floor.points[2].siding);
  EXPECT_FALSE(floor.points[2].turn_round);
  EXPECT_TRUE(floor.points[4].turn_round);

  const Segment& straight = floor.segments[0];
  EXPECT_EQ(straight.length, Mm{4000});
  EXPECT_EQ(straight.speed, MmPerS{400});
  EXPECT_FALSE(straight.two_way || straight.spur || straight.turn);
  EXPECT_EQ(floor.segments[1].length, Mm{3001});  // 3000.5, rounded away from zero
  EXPECT_EQ(floor.segments[1].speed, MmPerS{300});
  EXPECT_EQ(floor.segments[1].turn, Branch::left);
  EXPECT_EQ(floor.segments[2].length, Mm{4100});
  // hypot(200, 1500) + hypot(100, 999.75) + hypot(100, 500.25), by hand: 1513.27 + 1004.74 + 510.15
  EXPECT_EQ(floor.segments[3].length, Mm{3028});
  EXPECT_THAT(floor.segments[3].via, ElementsAre(Position{-200, 1500}, Position{-100, 500.25}));
  EXPECT_TRUE(floor.segments[4].two_way);
  EXPECT_TRUE(floor.segments[5].spur);

  EXPECT_EQ(floor.stations[0].name, "Casting");
  EXPECT_EQ(floor.stations[0].load, Duration{20'500});
  EXPECT_EQ(floor.stations[0].unload, Duration{0});
  EXPECT_EQ(floor.stations[0].capacity, std::nullopt);
  EXPECT_EQ(floor.stations[1].load, Duration{15'000});
  EXPECT_EQ(floor.stations[1].unload, Duration{15'000});
  EXPECT_EQ(floor.stations[1].capacity, 3);
  EXPECT_EQ(floor.demand[0].per_hour, 2.5);
  EXPECT_EQ(floor.zones[0].name, "Kiln room");
  EXPECT_THAT(floor.zones[0].segments, testing::ElementsAre(SegmentIx{5}, SegmentIx{6}));
  EXPECT_EQ(floor.find_zone("KILNS"), ZoneIx{0});
}

TEST(Good, OptionalListsMayBeLeftOut) {
  Json document = small_floor();
  for (const char* key : {"chargers", "conflicts", "demand", "zones"}) document.erase(key);
  document["stations"] = Json::array();
  const Floor floor = floor_in(document.dump());
  EXPECT_THAT(floor.stations, IsEmpty());
  EXPECT_THAT(floor.chargers, IsEmpty());
  EXPECT_THAT(floor.conflicts, IsEmpty());
  EXPECT_THAT(floor.demand, IsEmpty());
  EXPECT_THAT(floor.zones, IsEmpty());
}

TEST(Good, LookUps) {
  const Floor floor = floor_in(small_floor().dump());
  EXPECT_EQ(floor.find_point("C"), PointIx{2});
  EXPECT_EQ(floor.find_point("c"), std::nullopt);
  EXPECT_EQ(floor.find_segment("S7"), SegmentIx{6});
  EXPECT_EQ(floor.find_segment("A"), std::nullopt);
  EXPECT_EQ(floor.find_station("DRY"), StationIx{1});
  EXPECT_EQ(floor.find_station(""), std::nullopt);
  EXPECT_EQ(floor.find_tag("1122334455"), PointIx{0});
  EXPECT_EQ(floor.find_tag("04A1B2C6"), PointIx{6});
  EXPECT_EQ(floor.find_tag("00000000"), std::nullopt);
  EXPECT_TRUE(floor.has_charger(PointIx{2}));
  EXPECT_FALSE(floor.has_charger(PointIx{0}));
}

/// The example of shared/floor-format.md, word for word.
const char* const format_example = R"({
  "format": "tagline-floor/1",
  "name": "Pottery works, ground floor",
  "cart": {"length": 600, "width": 400, "reader_to_nose": 100, "speed": 400,
           "acceleration": 300, "deceleration": 600, "clearance": 100},
  "points":   [{"id": "P1", "x": 0, "y": 0, "tags": ["04A1B2C3"], "siding": false}],
  "segments": [{"id": "S1", "from": "P1", "to": "P2", "length": 2000, "speed": 300,
                "two_way": false, "via": [[500, 0], [1000, 200]]}],
  "stations": [{"id": "GLAZE", "name": "Glazing", "point": "P2", "load_s": 20, "unload_s": 15, "capacity": 2}],
  "chargers": [{"id": "C1", "point": "P9"}],
  "conflicts": [["S4", "S9"]],
  "demand":   [{"from": "CAST", "to": "GLAZE", "per_hour": 6}]
})";

TEST(Example, LacksOnlyWhatItNamesAndDoesNotShow) {
  EXPECT_THAT(pointers_of(findings_in(format_example)),
              ElementsAre("/segments/0/to", "/stations/0/point", "/chargers/0/point",
                          "/conflicts/0/0", "/conflicts/0/1", "/demand/0/from"));
}

TEST(Example, CompletedIsAFloor) {
  Json document = Json::parse(format_example);
  document["points"].push_back({{"id", "P2"}, {"x", 1900}, {"y", 200}});
  document["points"].push_back({{"id", "P9"}, {"x", 5000}, {"y", 200}});
  document["segments"].push_back({{"id", "S4"}, {"from", "P2"}, {"to", "P9"}});
  document["segments"].push_back({{"id", "S9"}, {"from", "P9"}, {"to", "P1"}});
  document["stations"].push_back({{"id", "CAST"}, {"name", "Casting"}, {"point", "P1"}});
  const Floor floor = floor_in(document.dump());
  expect_whole(floor);
  EXPECT_EQ(floor.segments[0].length, Mm{2000});
  EXPECT_EQ(floor.stations[0].capacity, 2);
  EXPECT_THAT(floor.conflicts, ElementsAre(std::pair{SegmentIx{1}, SegmentIx{2}}));
}

class RoundTrip : public ::testing::TestWithParam<std::string> {};

TEST_P(RoundTrip, ComesBackTheSame) {
  const Floor floor = floor_in(read_file(GetParam()));
  const std::string text = format_floor(floor);
  expect_same(floor_in(text), floor);
  EXPECT_EQ(format_floor(floor_in(text)), text);
}

INSTANTIATE_TEST_SUITE_P(Files, RoundTrip,
                         ::testing::Values("deploy/demo.floor.json",
                                           "tests/data/small-loop.floor.json"));

TEST(RoundTrip, OfEveryKindOfValue) {
  Json document = small_floor();
  document["name"] = "a \"quoted\" \\ \xC3\xA9 name";
  document["points"][0]["x"] = 0.1;
  document["points"][1]["y"] = -1e-7;
  document["stations"][0]["load_s"] = 0.001;
  document["segments"][3]["turn"] = "straight";
  document["segments"][4]["turn"] = "right";
  document["demand"][0]["per_hour"] = 1.0 / 3;
  const Floor floor = floor_in(document.dump());
  EXPECT_EQ(floor.stations[0].load, Duration{1});
  expect_same(floor_in(format_floor(floor)), floor);
}

TEST(Written, IsOneObjectALineWithEveryValue) {
  const std::string text = format_floor(floor_in(small_floor().dump()));
  EXPECT_THAT(text, HasSubstr("\n    {\"id\":\"C\",\"x\":4000,\"y\":3000.5,\"tags\":"
                              "[\"E004010203040506\"],\"siding\":true,\"turn_round\":false},\n"));
  EXPECT_THAT(text, HasSubstr("\n    {\"id\":\"S1\",\"from\":\"A\",\"to\":\"B\",\"length\":4000,"
                              "\"speed\":400,\"two_way\":false,\"spur\":false,\"via\":[]},\n"));
  EXPECT_THAT(text, HasSubstr("\n    {\"id\":\"CAST\",\"name\":\"Casting\",\"point\":\"T\","
                              "\"load_s\":20.5,\"unload_s\":0},\n"));
}

}  // namespace
}  // namespace tagline::floor::testing
