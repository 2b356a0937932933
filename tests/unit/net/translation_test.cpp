// Core's language <-> the cart link's.
#include <gtest/gtest.h>

#include "server/net/wire_translation.hpp"
#include "tests/support/floor_builder.hpp"

namespace tagline::net {
namespace {

floor::Floor small_floor() {
  return tagline::test::FloorBuilder{}
      .point("A", 0, 0)
      .point("B", 2000, 0)
      .segment("S1", "A", "B")
      .build();
}

TEST(Translation, AuthorityCarriesIdsTagsAndFigures) {
  const floor::Floor floor = small_floor();
  control::TellAuthority told;
  told.cart = CartIx{3};
  told.trip = 7;
  told.points.push_back({11, PointIx{0}, control::ToldAct::go, {}, {}, Mm{0}, MmPerS{0}});
  told.points.push_back({12, PointIx{1}, control::ToldAct::unload, floor::Branch::right,
                         floor::Gear::back, Mm{2000}, MmPerS{300}});
  const control::Message message = told;
  EXPECT_EQ(addressee(message), CartIx{3});
  const auto wire = std::get<protocol::Authority>(to_wire(floor, message));
  EXPECT_EQ(wire.trip, 7u);
  ASSERT_EQ(wire.points.size(), 2u);
  EXPECT_EQ(wire.points[0].step, 11u);
  EXPECT_EQ(wire.points[0].point, "A");
  EXPECT_EQ(wire.points[1].point, "B");
  EXPECT_EQ(wire.points[1].tags, floor.points[1].tags);
  ASSERT_FALSE(wire.points[1].tags.empty());
  EXPECT_EQ(wire.points[1].act, protocol::Act::unload);
  EXPECT_EQ(wire.points[1].branch, protocol::Branch::right);
  EXPECT_EQ(wire.points[1].gear, protocol::Gear::back);
  EXPECT_EQ(wire.points[1].length, 2000);
  EXPECT_EQ(wire.points[1].speed, 300);
}

TEST(Translation, EveryActKeepsItsMeaning) {
  using control::ToldAct;
  using protocol::Act;
  const floor::Floor floor = small_floor();
  for (const auto& [told, sent] :
       {std::pair{ToldAct::go, Act::go}, std::pair{ToldAct::turn, Act::turn},
        std::pair{ToldAct::stop, Act::stop}, std::pair{ToldAct::wait, Act::wait},
        std::pair{ToldAct::load, Act::load}, std::pair{ToldAct::unload, Act::unload}}) {
    control::TellAuthority authority;
    authority.points.push_back({1, PointIx{0}, told, {}, {}, Mm{0}, MmPerS{0}});
    EXPECT_EQ(std::get<protocol::Authority>(to_wire(floor, authority)).points[0].act, sent);
  }
}

TEST(Translation, ReasonsAndOrdersForPeople) {
  const floor::Floor floor = small_floor();
  const CartIx cart{1};
  EXPECT_EQ(std::get<protocol::Hold>(to_wire(floor, control::TellHold{cart, "why"})).reason, "why");
  EXPECT_EQ(std::get<protocol::ServiceStop>(to_wire(floor, control::TellStop{cart, "now"})).reason,
            "now");
  EXPECT_TRUE(
      std::holds_alternative<protocol::ServiceRelease>(to_wire(floor, control::TellRelease{cart})));
  EXPECT_TRUE(std::holds_alternative<protocol::Reset>(to_wire(floor, control::TellReset{cart})));
  for (const auto& [told, sent] :
       {std::pair{control::Handling::load, protocol::Handling::load},
        std::pair{control::Handling::unload, protocol::Handling::unload}}) {
    EXPECT_EQ(std::get<protocol::Handled>(to_wire(floor, control::TellHandled{cart, 7, told})),
              (protocol::Handled{7, sent}));
  }
}

TEST(Translation, CartMessagesBecomeEventsOfThatCart) {
  const CartIx cart{2};
  const auto read = std::get<control::CartReads>(
      to_event(cart, protocol::CartMessage{protocol::Read{5, "04A1B2C3", 9}}));
  EXPECT_EQ(read.cart, cart);
  EXPECT_EQ(read.tag, "04A1B2C3");
  EXPECT_EQ(read.step, 9u);
  const auto state = std::get<control::CartReports>(to_event(
      cart, protocol::CartMessage{protocol::State{6, 42, true, false, protocol::Fault::overrun}}));
  EXPECT_EQ(state.battery, 42);
  EXPECT_TRUE(state.loaded);
  EXPECT_FALSE(state.moving);
  EXPECT_EQ(state.fault, control::Fault::overrun);
  const auto done = std::get<control::CartHandled>(
      to_event(cart, protocol::CartMessage{protocol::Done{7, 12, protocol::Handling::unload}}));
  EXPECT_EQ(done.step, 12u);
  EXPECT_EQ(done.what, control::Handling::unload);
  const auto stop = std::get<control::CartStopped>(
      to_event(cart, protocol::CartMessage{protocol::Stop{8, protocol::StopCause::scanner}}));
  EXPECT_EQ(stop.cause, control::StopCause::scanner);
  EXPECT_TRUE(std::holds_alternative<control::CartReleased>(
      to_event(cart, protocol::CartMessage{protocol::Release{9}})));
  EXPECT_THROW(to_event(cart, protocol::CartMessage{protocol::Hello{}}), std::invalid_argument);
  EXPECT_EQ(seq_of(protocol::CartMessage{protocol::Release{9}}), 9u);
  EXPECT_EQ(seq_of(protocol::CartMessage{protocol::Hello{}}), 0u);
}

TEST(Translation, EveryFaultKeepsItsMeaning) {
  using C = control::Fault;
  using P = protocol::Fault;
  for (const auto& [sent, known] :
       {std::pair{P::none, C::none}, std::pair{P::blocked, C::blocked},
        std::pair{P::tape_lost, C::tape_lost}, std::pair{P::overrun, C::overrun},
        std::pair{P::wrong_tag, C::wrong_tag}, std::pair{P::battery, C::battery},
        std::pair{P::drive, C::drive}, std::pair{P::reader, C::reader}}) {
    const auto event =
        to_event(CartIx{0}, protocol::CartMessage{protocol::State{1, 50, false, false, sent}});
    EXPECT_EQ(std::get<control::CartReports>(event).fault, known);
  }
}

TEST(Translation, RebootIsJudgedByBootOrByAuthority) {
  protocol::Hello hello;
  hello.boot = "k7";
  hello.until = 0;
  EXPECT_TRUE(has_rebooted(std::nullopt, hello));  // holds nothing, and nobody remembers it
  hello.until = 9;
  EXPECT_FALSE(has_rebooted(std::nullopt, hello));  // the service restarted, not the cart
  EXPECT_FALSE(has_rebooted(std::string("k7"), hello));
  EXPECT_TRUE(has_rebooted(std::string("k6"), hello));
  hello.until = 0;
  EXPECT_FALSE(has_rebooted(std::string("k7"), hello));  // was told to forget
}

}  // namespace
}  // namespace tagline::net
