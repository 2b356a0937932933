// Every kind of finding on a floor that is otherwise good: exactly one finding, at the exact
// place, naming the value found; and all of many in one pass.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support.hpp"

namespace tagline::floor::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// Puts the JSON text `value` at `at` (adding the key if need be), or takes `at` away if empty.
struct Case {
  std::string at;
  std::string value;
  std::string pointer;
  std::string wrong;  // a part of it
  std::string right;  // a part of it
};

void PrintTo(const Case& one, std::ostream* out) { *out << one.at << " = " << one.value; }

class OneFinding : public ::testing::TestWithParam<Case> {};

TEST_P(OneFinding, IsFoundAloneAndInPlace) {
  const Case& one = GetParam();
  Json document = small_floor();
  ASSERT_THAT(findings_of(document), IsEmpty());
  const Json::json_pointer at(one.at);
  if (one.value.empty()) {
    ASSERT_EQ(document[at.parent_pointer()].erase(at.back()), 1U);
  } else {
    document[at] = Json::parse(one.value);
  }
  const auto findings = findings_of(document);
  ASSERT_THAT(pointers_of(findings), ElementsAre(one.pointer));
  EXPECT_THAT(findings[0].wrong, HasSubstr(one.wrong));
  EXPECT_THAT(findings[0].right, HasSubstr(one.right));
}

const std::string long_id(33, 'a');
const std::string long_name(201, 'n');

INSTANTIATE_TEST_SUITE_P(
    Document, OneFinding,
    ::testing::Values(
        Case{"/format", "", "", "\"format\" is missing", "tagline-floor/1"},
        Case{"/format", R"("tagline-floor/2")", "/format", "\"tagline-floor/2\"", "floor/1"},
        Case{"/format", "1", "/format", "the number 1", "tagline-floor/1"},
        Case{"/name", "", "", "\"name\" is missing", "name"},
        Case{"/name", R"("  ")", "/name", "\"  \"", "1 to 200 bytes"},
        Case{"/name", R"("a\nb")", "/name", R"("a\nb")", "line breaks"},
        Case{"/name", "\"" + long_name + "\"", "/name", "nnn", "200 bytes"},
        Case{"/name", "7", "/name", "the number 7", "name"},
        Case{"/colour", "1", "/colour", "unknown key \"colour\"", "format, name, cart"},
        Case{"/points", "{}", "/points", "an object instead of a list", "1 to 10000 points"},
        Case{"/stations", "", "", "\"stations\" is missing", "list"},
        Case{"/segments", "[]", "/segments", "an empty list", "1 to 20000"},
        Case{"/points", "[]", "/points", "an empty list", "1 to 10000 points"},
        Case{"/points", "", "", "\"points\" is missing", "list"},
        Case{"/chargers", "null", "/chargers", "null", "list"},
        Case{"/demand", "7", "/demand", "the number 7", "flows"},
        Case{"/cart", "", "", "\"cart\" is missing", "length and width"}));

INSTANTIATE_TEST_SUITE_P(
    Cart, OneFinding,
    ::testing::Values(
        Case{"/cart", "[]", "/cart", "an empty list instead of the cart", "length, width"},
        Case{"/cart/length", "", "/cart", "\"length\" is missing", "100 to 5000 mm"},
        Case{"/cart/width", "", "/cart", "\"width\" is missing", "100 to 3000 mm"},
        Case{"/cart/length", "0.6", "/cart/length", "0.6", "100 to 5000 mm"},
        Case{"/cart/length", "5001", "/cart/length", "5001", "100 to 5000 mm"},
        Case{"/cart/width", "-400", "/cart/width", "-400", "100 to 3000 mm"},
        Case{"/cart/width", R"("400")", "/cart/width", "the text \"400\"", "a number"},
        Case{"/cart/reader_to_nose", "601", "/cart/reader_to_nose", "601", "0 to 600 mm"},
        Case{"/cart/reader_to_nose", "-1", "/cart/reader_to_nose", "-1", "0 to 600 mm"},
        Case{"/cart/speed", "3001", "/cart/speed", "3001", "10 to 3000 mm/s"},
        Case{"/cart/speed", "0.4", "/cart/speed", "0.4", "10 to 3000 mm/s"},
        Case{"/cart/acceleration", "0", "/cart/acceleration", "0", "mm/s2"},
        Case{"/cart/deceleration", "20000", "/cart/deceleration", "20000", "mm/s2"},
        Case{"/cart/clearance", "2001", "/cart/clearance", "2001", "0 to 2000 mm"},
        Case{"/cart/colour", "1", "/cart/colour", "unknown key \"colour\"", "clearance"}));

INSTANTIATE_TEST_SUITE_P(
    Points, OneFinding,
    ::testing::Values(
        Case{"/points/7", "5", "/points/7", "the number 5 instead of a point", "id, x, y"},
        Case{"/points/0/x", "", "/points/0", "\"x\" is missing", "mm"},
        Case{"/points/0/x", R"("0")", "/points/0/x", "the text \"0\"", "a number"},
        Case{"/points/0/y", "1e300", "/points/0/y", "1e+300", "-1000000 to 1000000 mm"},
        Case{"/points/0/y", "1000000.5", "/points/0/y", "1000000.5", "1000000 mm"},
        Case{"/points/0/siding", "1", "/points/0/siding", "the number 1", "true or false"},
        Case{"/points/0/turn_round", R"("yes")", "/points/0/turn_round", "\"yes\"", "true"},
        Case{"/points/0/z", "1", "/points/0/z", "unknown key \"z\"", "turn_round"},
        Case{"/points/0/a~1b~0c", "1", "/points/0/a~1b~0c", "unknown key \"a/b~c\"", "tags"},
        Case{"/points/7", R"({"id":"A","x":9,"y":9})", "/points/7/id", "used already by /points/0",
             "its own"}));

TEST(Findings, ABrokenIdLeavesItsUsesDangling) {
  for (const std::string& id :
       {std::string(), std::string("P 1"), std::string("\xC3\xA9"), long_id, std::string("a.b")}) {
    Json document = small_floor();
    document["points"].push_back({{"id", id}, {"x", 9000}, {"y", 9000}});
    const auto findings = findings_of(document);
    ASSERT_THAT(pointers_of(findings), ElementsAre("/points/7/id"));
    EXPECT_THAT(findings[0].right, HasSubstr("1 to 32 of A-Z, a-z, 0-9, - and _"));
    document["chargers"][0]["point"] = id;
    EXPECT_THAT(pointers_of(findings_of(document)),
                ElementsAre("/points/7/id", "/chargers/0/point"));
  }
  Json document = small_floor();
  document["points"][0].erase("id");
  EXPECT_THAT(pointers_of(findings_of(document)),
              ElementsAre("/points/0", "/segments/0/from", "/segments/3/to", "/segments/4/from"));
}

TEST(Findings, IdsOfAllAllowedLettersAreTaken) {
  Json document = small_floor();
  document["chargers"][0]["id"] = std::string(32, 'Z');
  EXPECT_THAT(findings_of(document), IsEmpty());
  document["chargers"][0]["id"] = "aZ09-_";
  EXPECT_THAT(findings_of(document), IsEmpty());
}

// UID lengths and first bytes: ISO/IEC 14443-3 and ISO/IEC 15693-3 (from memory, as
// shared/check-values.md says); 5 bytes: common 125 kHz cards.
INSTANTIATE_TEST_SUITE_P(
    Tags, OneFinding,
    ::testing::Values(
        Case{"/points/0/tags", R"("04A1B2C3")", "/points/0/tags", "the text", "a list"},
        Case{"/points/0/tags/0", "4", "/points/0/tags/0", "the number 4", "in quotes"},
        Case{"/points/0/tags/0", R"("")", "/points/0/tags/0", "\"\"", "hex"},
        Case{"/points/0/tags/1", R"("04:A1:B2:C9")", "/points/0/tags/1", "04:A1", "colons"},
        Case{"/points/0/tags/0", R"("04A1B2CG")", "/points/0/tags/0", "04A1B2CG", "hex digits"},
        Case{"/points/0/tags/0", R"("04A1B2C")", "/points/0/tags/0", "7 hex", "8, 10, 14, 16"},
        Case{"/points/0/tags/0", R"("04A1B2C3D4E5")", "/points/0/tags/0", "12 hex", "4, 5, 7"},
        Case{"/points/0/tags/0", R"("8804A1B2")", "/points/0/tags/0", "starts with 88", "7 or 10"},
        Case{"/points/0/tags/0", R"("0004010203040506")", "/points/0/tags/0", "E0", "15693"},
        Case{"/points/0/tags/0", R"("06050403020104E0")", "/points/0/tags/0", "E0", "reverse"},
        Case{"/points/0/tags/1", R"("04a1b2c3")", "/points/0/tags/1", "marks /points/0", "once"},
        Case{"/points/6/tags/0", R"("04a1b2c3d4e5f6")", "/points/6/tags/0", "marks /points/1",
             "once"}));

TEST(Findings, TagsOfAllLengthsInAnyCaseAreTaken) {
  Json document = small_floor();
  // A longer UID may start with 88: only in a 4-byte one is that the cascade tag.
  document["points"][0]["tags"] = {"deadbeef", "8811223344", "88112233445566", "e0112233445566ff",
                                   "88112233445566778899"};
  ASSERT_THAT(findings_of(document), IsEmpty());
  EXPECT_THAT(floor_in(document.dump()).points[0].tags,
              ElementsAre("DEADBEEF", "8811223344", "88112233445566", "E0112233445566FF",
                          "88112233445566778899"));
}

INSTANTIATE_TEST_SUITE_P(
    Segments, OneFinding,
    ::testing::Values(
        Case{"/segments/7", "[]", "/segments/7", "an empty list instead of a segment", "from, to"},
        Case{"/segments/7", R"({"id":"S2","from":"A","to":"C"})", "/segments/7/id",
             "used already by /segments/1", "own"},
        Case{"/segments/0/from", "", "/segments/0", "\"from\" is missing", "where it starts"},
        Case{"/segments/0/to", "3", "/segments/0/to", "the number 3", "the point where it ends"},
        Case{"/segments/0/to", R"("P99")", "/segments/0/to", "no point \"P99\"", "\"A\""},
        Case{"/segments/0/to", R"("b")", "/segments/0/to", "no point \"b\"", "\"B\""},
        Case{"/segments/0/to", R"("A")", "/segments/0/to", "back to its start \"A\"", "another"},
        Case{"/segments/0/length", "0", "/segments/0/length", "0", "1 to 200000 mm"},
        Case{"/segments/0/length", "200001", "/segments/0/length", "200001", "200000 mm"},
        Case{"/segments/0/length", "3900", "/segments/0/length", "3900 mm is shorter", "4000 mm"},
        Case{"/segments/0/speed", "401", "/segments/0/speed", "401 mm/s is above", "at most"},
        Case{"/segments/0/speed", "0", "/segments/0/speed", "0", "10 to 3000 mm/s"},
        Case{"/segments/0/two_way", "0", "/segments/0/two_way", "the number 0", "true or false"},
        Case{"/segments/5/two_way", "true", "/segments/5", "\"two_way\" and \"spur\"", "keep one"},
        Case{"/segments/5/spur", R"("true")", "/segments/5/spur", "the text", "true or false"},
        Case{"/segments/0/spur", "true", "/segments/0/spur", "no dead end: segment \"S2\"", "spur"},
        Case{"/segments/6/spur", "false", "/segments/5/spur", "\"K\" is no dead end", "spur"},
        Case{"/segments/0/via", R"({"x":1})", "/segments/0/via", "an object", "list"},
        Case{"/segments/0/via", "[[1,2,3]]", "/segments/0/via/0", "a list of 3", "[x, y]"},
        Case{"/segments/0/via", R"([[1,"2"]])", "/segments/0/via/0/1", "the text \"2\"", "mm"},
        Case{"/segments/0/via", "[[2000000,2]]", "/segments/0/via/0/0", "2000000", "1000000 mm"},
        Case{"/segments/0/via", "[[0,0]]", "/segments/0/via/0", "point \"A\"", "take it away"},
        Case{"/segments/0/via", "[[9,0],[9,0]]", "/segments/0/via/1", "the one before", "take it"},
        Case{"/segments/0/via", "[[9,0],[4000,0]]", "/segments/0/via/1", "point \"B\"", "take it"},
        Case{"/segments/0/via", "[[150000,0]]", "/segments/0", "296000 mm long", "200000 mm"},
        Case{"/segments/1/turn", R"("Left")", "/segments/1/turn", "\"Left\" is no turn",
             "\"left\""},
        Case{"/segments/1/turn", "90", "/segments/1/turn", "the number 90", "\"straight\""},
        Case{"/segments/0/tags", "[]", "/segments/0/tags", "unknown key \"tags\"", "two_way"}));

TEST(Findings, ALineWithoutLength) {
  Json document = small_floor();
  document["points"][1]["x"] = 0.25;  // B on top of A
  document["segments"][1].erase("speed");
  const auto findings = findings_of(document);
  ASSERT_THAT(pointers_of(findings), ElementsAre("/segments/0"));
  EXPECT_THAT(findings[0].wrong, HasSubstr("\"A\" and \"B\" are the same place"));
}

TEST(Findings, AMeasuredLengthMayBeALittleShort) {
  // 4000 mm straight: 5 mm and 0.5 % of slack make 3975 the shortest.
  Json document = small_floor();
  document["segments"][0]["length"] = 3975;
  EXPECT_THAT(findings_of(document), IsEmpty());
  document["segments"][0]["length"] = 3974.9;
  EXPECT_THAT(pointers_of(findings_of(document)), ElementsAre("/segments/0/length"));
}

TEST(Findings, SpeedIsNotComparedWithABrokenCartSpeed) {
  Json document = small_floor();
  document["cart"]["speed"] = "fast";
  document["segments"][0]["speed"] = 2000;
  EXPECT_THAT(pointers_of(findings_of(document)), ElementsAre("/cart/speed"));
}

INSTANTIATE_TEST_SUITE_P(
    Places, OneFinding,
    ::testing::Values(
        Case{"/stations/2", "null", "/stations/2", "null instead of a station", "load_s"},
        Case{"/stations/1/name", "", "/stations/1", "\"name\" is missing", "name"},
        Case{"/stations/0/point", R"("Z")", "/stations/0/point", "no point \"Z\"", "\"A\""},
        Case{"/stations/0/point", "", "/stations/0", "\"point\" is missing", "carts stop"},
        Case{"/stations/0/load_s", "-1", "/stations/0/load_s", "-1", "0 to 3600 s"},
        Case{"/stations/0/unload_s", "3601", "/stations/0/unload_s", "3601", "0 to 3600 s"},
        Case{"/stations/1/capacity", "0", "/stations/1/capacity", "0", "1 to 1000 loads"},
        Case{"/stations/1/capacity", "1.5", "/stations/1/capacity", "1.5 is not", "whole"},
        Case{"/stations/1/capacity", "null", "/stations/1/capacity", "null", "a number"},
        Case{"/stations/1/unload", "1", "/stations/1/unload", "unknown key", "unload_s"},
        Case{"/chargers/0/point", R"("Z")", "/chargers/0/point", "no point \"Z\"", "\"A\""},
        Case{"/chargers/0/kw", "1", "/chargers/0/kw", "unknown key \"kw\"", "id, point"},
        Case{"/chargers/0", "true", "/chargers/0", "true instead of a charger", "point"},
        Case{"/conflicts/0", R"(["S1"])", "/conflicts/0", "a list of 1", "two segments"},
        Case{"/conflicts/0", R"(["S1","S1"])", "/conflicts/0", "the same segment \"S1\"", "two"},
        Case{"/conflicts/0/1", R"("S99")", "/conflicts/0/1", "no segment \"S99\"", "\"S1\""},
        Case{"/conflicts/0/0", "1", "/conflicts/0/0", "the number 1", "id of a segment"},
        Case{"/conflicts/1", R"(["S3","S1"])", "/conflicts/1", "pair as /conflicts/0", "once"},
        Case{"/demand/0", "[]", "/demand/0", "an empty list instead of a flow", "per_hour"},
        Case{"/demand/0/from", R"("KILN")", "/demand/0/from", "no station \"KILN\"", "\"CAST\""},
        Case{"/demand/0/to", R"("CAST")", "/demand/0/to", "from \"CAST\" to itself", "another"},
        Case{"/demand/0/per_hour", "0", "/demand/0/per_hour", "0 jobs an hour", "more than 0"},
        Case{"/demand/0/per_hour", "-1", "/demand/0/per_hour", "-1", "0 to 3600"},
        Case{"/demand/0/per_hour", "", "/demand/0", "\"per_hour\" is missing", "jobs an hour"},
        Case{"/demand/1", R"({"from":"CAST","to":"DRY","per_hour":1})", "/demand/1", "as /demand/0",
             "sum of both"},
        Case{"/zones/0/segments/1", R"("S99")", "/zones/0/segments/1", "no segment \"S99\"", "S1"},
        Case{"/zones/0/segments/1", R"("S6")", "/zones/0/segments/1", "\"S6\" twice", "once"},
        Case{"/zones/0/segments/1", "7", "/zones/0/segments/1", "the number 7", "id of a segment"},
        Case{"/zones/0/segments", "[]", "/zones/0/segments", "", "1"},
        Case{"/zones/0/points", "[]", "/zones/0/points", "unknown key", "segments"},
        Case{"/zones/1", R"({"id":"KILNS","name":"Again","segments":["S1"]})", "/zones/1/id",
             "used already by /zones/0", "of its own"}));

TEST(Findings, TheSameIdForTwoStationsOrChargers) {
  Json document = small_floor();
  document["stations"].push_back({{"id", "CAST"}, {"name", "Casting two"}, {"point", "B"}});
  document["chargers"].push_back({{"id", "C1"}, {"point", "B"}});
  EXPECT_THAT(pointers_of(findings_of(document)), ElementsAre("/stations/2/id", "/chargers/1/id"));
}

TEST(Findings, TheSameIdForTwoKindsIsFine) {
  Json document = small_floor();
  document["chargers"][0]["id"] = "A";
  EXPECT_THAT(findings_of(document), IsEmpty());
}

TEST(Findings, AKeyGivenTwiceIsNamedInEveryObject) {
  const std::string text = R"({"format":"tagline-floor/1","name":"n","name":"m",
    "cart":{"length":600,"width":400,"width":500},
    "points":[{"id":"A","x":0,"x":1,"y":0},{"id":"B","x":2000,"y":0}],
    "segments":[{"id":"S","from":"A","to":"B"}],"stations":[]})";
  const auto findings = findings_in(text);
  EXPECT_THAT(pointers_of(findings), ElementsAre("/name", "/cart/width", "/points/0/x"));
  EXPECT_EQ(findings[2].wrong, "key \"x\" is given twice in one object");
}

TEST(Findings, AllKindsOfOnePassInTheirOrder) {
  const auto findings = findings_in(read_file("tests/data/bad-many.floor.json"));
  EXPECT_THAT(pointers_of(findings),
              ElementsAre("/colour", "/format", "/cart/width", "/points/1/x", "/points/2/tags/0",
                          "/segments/2", "/stations/0/load_s",  // schema
                          "/points/3/id", "/points/4/tags/0", "/segments/1/to", "/stations/0/point",
                          "/conflicts/0", "/demand/0/to",               // references
                          "/segments/0/length", "/segments/3/speed"));  // geometry
}

TEST(Findings, TooLongListsAreNotReadOn) {
  Json document = small_floor();
  document["points"][0]["tags"] = Json::array();
  for (int k = 0; k < 17; ++k) document["points"][0]["tags"].push_back("x");
  const auto findings = findings_of(document);
  ASSERT_THAT(pointers_of(findings), ElementsAre("/points/0/tags"));
  EXPECT_EQ(findings[0].wrong, "a list of 17");
}

TEST(Findings, AreCountedPastAThousand) {
  Json document = small_floor();
  for (int k = 0; k < 3000; ++k) document["conflicts"].push_back({"S1", "no" + std::to_string(k)});
  const auto findings = findings_of(document);
  ASSERT_EQ(findings.size(), 1001U);
  EXPECT_EQ(findings[0].pointer, "/conflicts/1/1");
  EXPECT_EQ(findings[1000].wrong, "2000 more findings are not listed");
}

TEST(Findings, ReadAsOneLine) {
  Json document = small_floor();
  document["segments"][3]["to"] = "P99";
  const auto findings = findings_of(document);
  ASSERT_EQ(findings.size(), 1U);
  EXPECT_EQ(describe("deploy/demo.floor.json", findings[0]),
            "deploy/demo.floor.json: /segments/3/to: no point \"P99\"; name one of the points, "
            "e.g. \"A\"");
  EXPECT_EQ(describe("x.json", {"", "the file is empty", "write one object"}),
            "x.json: the file is empty; write one object");
}

}  // namespace
}  // namespace tagline::floor::testing
