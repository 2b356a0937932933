// Stops as text and back.
#include "server/store/stops_text.hpp"

#include <gmock/gmock.h>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using control::Handling;
using control::JobStop;
using testing::IsEmpty;

class StopsText : public testing::Test {
 protected:
  Works works;
  Names names{works.ways, three_carts};
};

TEST_F(StopsText, ThereAndBack) {
  const std::vector<JobStop> stops{{StationIx{2}, Handling::unload},
                                   {StationIx{0}, Handling::load},
                                   {StationIx{2}, Handling::unload}};
  const std::string text = stops_text(names, stops);
  EXPECT_EQ(text, "GLAZE:unload CAST:load GLAZE:unload");
  const StopsRead read = stops_from(names, text);
  EXPECT_EQ(read.stops, stops);
  EXPECT_EQ(read.missing, "");
  EXPECT_FALSE(read.malformed);
}

TEST_F(StopsText, NoStopsAreNoText) {
  EXPECT_EQ(stops_text(names, {}), "");
  const StopsRead read = stops_from(names, "");
  EXPECT_THAT(read.stops, IsEmpty());
  EXPECT_FALSE(read.malformed);
}

TEST_F(StopsText, TheFirstStationTheFloorLacksIsNamed) {
  const StopsRead read = stops_from(names, "GLAZE:unload PRESS:load PACK:unload");
  EXPECT_EQ(read.missing, "PRESS");
  EXPECT_FALSE(read.malformed);
}

TEST_F(StopsText, AnythingElseIsMalformed) {
  for (const char* text : {" ", "GLAZE", "GLAZE:", ":load", "GLAZE:wash", "GLAZE:load ,",
                           "GLAZE:load:load", " GLAZE:load", "GLAZE:load  CAST:load"}) {
    EXPECT_TRUE(stops_from(names, text).malformed) << '"' << text << '"';
  }
}

}  // namespace
}  // namespace tagline::store::test
