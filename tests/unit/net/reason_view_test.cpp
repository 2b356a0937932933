// Every kind of reason as data and as a sentence.
#include "server/net/reason_view.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>
#include <set>

#include "tests/support/floor_builder.hpp"

namespace tagline::net::test {
namespace {

using control::Fault;
using control::Handling;
using control::JobId;
using control::Reason;
using nlohmann::json;
using Kind = Reason::Kind;

class ReasonViewTest : public ::testing::Test {
 protected:
  static floor::Floor small_works() {
    floor::Floor floor = tagline::test::FloorBuilder{}
                             .point("A", 0, 0)
                             .point("B", 2000, 0)
                             .point("C", 4000, 0)
                             .segment("S1", "A", "B")
                             .segment("S2", "B", "C")
                             .station("DRY", "C")
                             .build();
    floor.stations[0].name = "Drying";
    floor.zones.push_back({"DRYING", "Drying room", {SegmentIx{1}}});
    return floor;
  }
  [[nodiscard]] json shown(const Reason& reason) const {
    const json chain = json::parse(view.chain({reason}));
    EXPECT_EQ(chain.size(), 1u);
    EXPECT_EQ(chain.at(0).at("text"), view.text(reason));
    return chain.at(0);
  }

  floor::Floor floor = small_works();
  floor::Ways ways{floor};
  floor::Track track{ways};
  std::vector<std::string> names{"cart-1", "cart-2", "cart-3"};
  ReasonView view{track, names};

  const CartIx cart{2}, other{0};
  const PointIx at_b{1}, at_c{2};
  const PieceIx s2{4};
  const Instant since{Duration{60'000}}, until{Duration{301'001}};
  static constexpr auto since_text = "1970-01-01T00:01:00.000Z";
};

TEST_F(ReasonViewTest, EveryKindHasItsDataAndItsSentence) {
  const StationIx dry{0};
  const JobId job{17};
  struct Row {
    Reason reason;
    json expected;
  };
  const std::vector<Row> rows{
      {{.kind = Kind::held_track,
        .cart = cart,
        .other = other,
        .point = at_b,
        .piece = s2,
        .since = since},
       {{"kind", "held_track"},
        {"text", "cart-3 waits at B for S2, which cart-1 holds."},
        {"cart", "cart-3"},
        {"other", "cart-1"},
        {"point", "B"},
        {"piece", "S2"},
        {"since", since_text}}},
      {{.kind = Kind::turn,
        .cart = cart,
        .other = other,
        .point = at_b,
        .piece = s2,
        .since = since},
       {{"kind", "turn"},
        {"text", "cart-3 waits at B for S2, where cart-1 passes first."},
        {"cart", "cart-3"},
        {"other", "cart-1"},
        {"point", "B"},
        {"piece", "S2"},
        {"since", since_text}}},
      {{.kind = Kind::way_out, .cart = cart, .other = other, .point = at_c, .piece = s2},
       {{"kind", "way_out"},
        {"text", "cart-3 waits at C (Drying): going on to S2 would lock cart-1 in."},
        {"cart", "cart-3"},
        {"other", "cart-1"},
        {"point", "C"},
        {"piece", "S2"}}},
      {{.kind = Kind::driving, .cart = cart, .point = at_b},
       {{"kind", "driving"},
        {"text", "cart-3 is driving and has the track up to B."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::handling, .cart = cart, .station = dry, .since = since},
       {{"kind", "handling"},
        {"text", "cart-3 is being loaded or unloaded at Drying."},
        {"cart", "cart-3"},
        {"station", "DRY"},
        {"since", since_text}}},
      {{.kind = Kind::handling, .cart = cart, .station = dry, .what = Handling::load},
       {{"kind", "handling"},
        {"text", "cart-3 is being loaded at Drying."},
        {"cart", "cart-3"},
        {"station", "DRY"},
        {"what", "load"}}},
      {{.kind = Kind::handling, .cart = cart, .station = dry, .what = Handling::unload},
       {{"kind", "handling"},
        {"text", "cart-3 is being unloaded at Drying."},
        {"cart", "cart-3"},
        {"station", "DRY"},
        {"what", "unload"}}},
      {{.kind = Kind::resting, .cart = cart, .point = at_b},
       {{"kind", "resting"},
        {"text", "cart-3 rests at B and has nothing to do."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::charging, .cart = cart, .point = at_b},
       {{"kind", "charging"},
        {"text", "cart-3 charges at B."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::out_of_service, .cart = cart, .point = at_b},
       {{"kind", "out_of_service"},
        {"text", "cart-3 is out of service at B."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::out_of_service, .cart = cart, .point = at_b, .piece = s2},
       {{"kind", "out_of_service"},
        {"text", "cart-3 waits at B for S2, which is out of service."},
        {"cart", "cart-3"},
        {"point", "B"},
        {"piece", "S2"}}},
      {{.kind = Kind::zone_stopped, .cart = cart, .point = at_b, .zone = ZoneIx{0}},
       {{"kind", "zone_stopped"},
        {"text", "cart-3 stands at B: Drying room was stopped by a person."},
        {"cart", "cart-3"},
        {"point", "B"},
        {"zone", "DRYING"}}},
      {{.kind = Kind::zone_stopped, .cart = cart, .point = at_b, .piece = s2, .zone = ZoneIx{0}},
       {{"kind", "zone_stopped"},
        {"text", "cart-3 waits at B for S2: Drying room was stopped by a person."},
        {"cart", "cart-3"},
        {"point", "B"},
        {"piece", "S2"},
        {"zone", "DRYING"}}},
      {{.kind = Kind::station_down, .job = job, .station = dry},
       {{"kind", "station_down"},
        {"text", "Job 17 waits: Drying is out of service."},
        {"job", 17},
        {"station", "DRY"}}},
      {{.kind = Kind::needs_release, .cart = cart, .point = at_b},
       {{"kind", "needs_release"},
        {"text", "cart-3 stands at B until a person releases it."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::in_doubt, .cart = cart},
       {{"kind", "in_doubt"},
        {"text", "Nobody knows where cart-3 is; it keeps all track that it could have reached."},
        {"cart", "cart-3"}}},
      {{.kind = Kind::not_connected, .cart = cart, .point = at_b},
       {{"kind", "not_connected"},
        {"text", "cart-3, last seen at B, has no link."},
        {"cart", "cart-3"},
        {"point", "B"}}},
      {{.kind = Kind::fault, .cart = cart, .point = at_b, .fault = Fault::tape_lost},
       {{"kind", "fault"},
        {"text", "cart-3 at B has lost the tape."},
        {"cart", "cart-3"},
        {"point", "B"},
        {"fault", "tape_lost"}}},
      {{.kind = Kind::greetings, .cart = cart},
       {{"kind", "greetings"},
        {"text", "The service has restarted and waits until cart-3 has greeted."},
        {"cart", "cart-3"}}},
      {{.kind = Kind::greetings, .cart = cart, .other = other, .point = at_b},
       {{"kind", "greetings"},
        {"text", "cart-3 waits at B until the service, which has restarted, is greeted by cart-1."},
        {"cart", "cart-3"},
        {"other", "cart-1"},
        {"point", "B"}}},
      {{.kind = Kind::all_stopped},
       {{"kind", "all_stopped"}, {"text", "A person has stopped all carts."}}},
      {{.kind = Kind::off_floor, .cart = cart},
       {{"kind", "off_floor"}, {"text", "cart-3 is not on the floor."}, {"cart", "cart-3"}}},
      {{.kind = Kind::standing_load, .cart = cart},
       {{"kind", "standing_load"},
        {"text", "cart-3 has a load on that no job knows of."},
        {"cart", "cart-3"}}},
      {{.kind = Kind::no_cart, .job = job},
       {{"kind", "no_cart"},
        {"text", "Job 17 waits: no cart is on the floor, connected and in service."},
        {"job", 17}}},
      {{.kind = Kind::no_cart_free, .cart = cart, .job = job, .until = until},
       {{"kind", "no_cart_free"},
        {"text", "Job 17 waits: every cart is busy; cart-3 is expected to be free first."},
        {"cart", "cart-3"},
        {"job", 17},
        {"until", "1970-01-01T00:05:05.000Z"}}},
      {{.kind = Kind::no_cart_free, .job = job},
       {{"kind", "no_cart_free"}, {"text", "Job 17 waits: every cart is busy."}, {"job", 17}}},
      {{.kind = Kind::planned_for, .cart = cart, .job = job, .until = Instant{Duration{300'000}}},
       {{"kind", "planned_for"},
        {"text", "Job 17 is planned for cart-3, as soon as that is free."},
        {"cart", "cart-3"},
        {"job", 17},
        {"until", "1970-01-01T00:05:00.000Z"}}},
      {{.kind = Kind::others_first, .job = job},
       {{"kind", "others_first"},
        {"text", "Job 17 waits: the free carts are better used for other jobs."},
        {"job", 17}}},
      {{.kind = Kind::station_full, .job = job, .station = dry, .count = 3},
       {{"kind", "station_full"},
        {"text", "Job 17 waits: Drying is full; 3 loads stand there or are on the way."},
        {"job", 17},
        {"station", "DRY"},
        {"count", 3}}},
      {{.kind = Kind::station_full, .job = job, .station = dry, .count = 1},
       {{"kind", "station_full"},
        {"text", "Job 17 waits: Drying is full; 1 load stands there or is on the way."},
        {"job", 17},
        {"station", "DRY"},
        {"count", 1}}},
      {{.kind = Kind::no_way, .job = job, .station = dry},
       {{"kind", "no_way"},
        {"text", "Job 17 waits: no cart has an open way to Drying."},
        {"job", 17},
        {"station", "DRY"}}},
      {{.kind = Kind::locked, .cart = cart, .job = job},
       {{"kind", "locked"},
        {"text", "Job 17 waits: cart-3 can't turn to it now without locking a cart in."},
        {"cart", "cart-3"},
        {"job", 17}}},
  };
  std::set<Kind> seen;
  for (const Row& row : rows) {
    seen.insert(row.reason.kind);
    EXPECT_EQ(shown(row.reason), row.expected);
  }
  // The enumeration begins with held_track and ends with locked: none is left out above.
  EXPECT_EQ(seen.size(), static_cast<std::size_t>(Kind::locked) + 1);
}

TEST_F(ReasonViewTest, EveryFaultHasWordsOfItsOwn) {
  std::set<std::string> texts;
  for (const Fault fault : {Fault::none, Fault::blocked, Fault::tape_lost, Fault::overrun,
                            Fault::wrong_tag, Fault::battery, Fault::drive, Fault::reader}) {
    const json one = shown({.kind = Kind::fault, .cart = cart, .point = at_b, .fault = fault});
    EXPECT_EQ(one.contains("fault"), fault != Fault::none);
    texts.insert(one.at("text"));
  }
  EXPECT_EQ(texts.size(), 8u);
}

TEST_F(ReasonViewTest, WhatIsNotKnownIsLeftOutAndStillASentence) {
  for (int kind = 0; kind <= static_cast<int>(Kind::locked); ++kind) {
    const json bare = shown({.kind = static_cast<Kind>(kind)});
    const std::string text = bare.at("text");
    EXPECT_TRUE(text.ends_with(".")) << text;
    for (const auto& [key, value] : bare.items())
      EXPECT_TRUE(key == "kind" || key == "text" || key == "count") << key;
  }
  EXPECT_EQ(shown({.kind = Kind::held_track}).at("text"),
            "a cart waits at its place for the track ahead, which a cart holds.");
}

TEST_F(ReasonViewTest, AChainKeepsItsOrder) {
  const json chain = json::parse(view.chain({{.kind = Kind::turn, .cart = cart, .other = other},
                                             {.kind = Kind::handling, .cart = other}}));
  ASSERT_EQ(chain.size(), 2u);
  EXPECT_EQ(chain[0].at("kind"), "turn");
  EXPECT_EQ(chain[1].at("kind"), "handling");
  EXPECT_EQ(view.chain({}), "[]");
}

}  // namespace
}  // namespace tagline::net::test
