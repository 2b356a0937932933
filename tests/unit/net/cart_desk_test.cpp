// The cart's desk without sockets: who is let in, what counts twice, what is acknowledged when.
// Rules from protocol/README.md.
#include "server/net/cart_desk.hpp"

#include <gtest/gtest.h>

#include "tests/support/floor_builder.hpp"
#include "tests/unit/net/fakes.hpp"

namespace tagline::net::test {
namespace {

using protocol::CloseCode;

std::uint16_t number(CloseCode code) { return static_cast<std::uint16_t>(code); }

class CartDeskTest : public ::testing::Test {
 protected:
  static protocol::Hello hello(const std::string& cart, const std::string& key,
                               const std::string& boot = "b1") {
    protocol::Hello message;
    message.cart = cart;
    message.key = key;
    message.boot = boot;
    message.battery = 80;
    return message;
  }
  static std::string text(const protocol::CartMessage& message) {
    return protocol::encode(message);
  }
  std::unique_ptr<FakeLink> open() { return std::make_unique<FakeLink>(desk.new_peer()); }
  std::unique_ptr<FakeLink> connected(const std::string& boot = "b1") {
    auto link = open();
    link->receive(text(hello("cart-1", "key-of-cart-one-0001", boot)));
    settle();
    return link;
  }
  /// The core takes everything in and nothing else happens.
  void settle() {
    while (!inbox.posted.empty()) {
      Release release;
      release.at = Instant{Duration{1'000}};
      release.origin = inbox.posted.front().second;
      inbox.posted.pop_front();
      desk.deliver(release);
    }
  }
  static protocol::ServiceMessage last(const FakeLink& link) {
    return std::get<protocol::ServiceMessage>(protocol::decode_service_message(link.sent.back()));
  }

  floor::Floor floor = tagline::test::FloorBuilder{}
                           .point("A", 0, 0)
                           .point("B", 2000, 0)
                           .segment("S1", "A", "B")
                           .build();
  FakeInbox inbox;
  CartDesk desk{floor,
                {{"cart-1", access::sha256("key-of-cart-one-0001")},
                 {"cart-2", access::sha256("key-of-cart-two-0002")}},
                inbox};
};

TEST_F(CartDeskTest, WelcomesAfterTheGreetingHasTakenEffect) {
  auto link = open();
  link->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  EXPECT_TRUE(link->sent.empty());
  ASSERT_EQ(inbox.posted.size(), 1u);
  EXPECT_TRUE(std::get<control::CartGreets>(inbox.posted[0].first).rebooted);
  settle();
  ASSERT_EQ(link->sent.size(), 1u);
  EXPECT_EQ(std::get<protocol::Welcome>(last(*link)).seq, 0u);
  EXPECT_EQ(std::get<protocol::Welcome>(last(*link)).time_ms, 1'000);
}

TEST_F(CartDeskTest, UnknownCartAndWrongKeyGetTheSameAnswer) {
  auto wrong = open(), unknown = open(), prefix = open(), longer = open();
  wrong->receive(text(hello("cart-1", "key-of-cart-two-0002")));
  unknown->receive(text(hello("cart-9", "key-of-cart-one-0001")));
  prefix->receive(text(hello("cart-1", "key-of-cart-one-000")));
  longer->receive(text(hello("cart-1", "key-of-cart-one-00011")));
  for (const auto* link : {wrong.get(), unknown.get(), prefix.get(), longer.get()}) {
    EXPECT_EQ(link->code, number(CloseCode::wrong_key));
    EXPECT_EQ(link->reason, wrong->reason);
    EXPECT_TRUE(link->sent.empty());
  }
  EXPECT_TRUE(inbox.posted.empty());
}

TEST_F(CartDeskTest, ANewKeyEndsTheOldOneAndItsLinkAtOnce) {
  auto before = connected();
  desk.change_key(CartIx{0}, access::sha256("key-of-cart-one-0003"));
  EXPECT_EQ(before->code, number(CloseCode::wrong_key));
  settle();
  auto old = open(), other = open(), right = open();
  old->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  EXPECT_EQ(old->code, number(CloseCode::wrong_key));
  other->receive(text(hello("cart-2", "key-of-cart-one-0003")));
  EXPECT_EQ(other->code, number(CloseCode::wrong_key));
  right->receive(text(hello("cart-1", "key-of-cart-one-0003")));
  settle();
  EXPECT_EQ(right->sent.size(), 1u);
  EXPECT_EQ(right->code, 0);
}

TEST_F(CartDeskTest, OneThatIsShutOutIsNobodyUntilItIsLetInAgain) {
  auto before = connected();
  auto beside = open();
  beside->receive(text(hello("cart-2", "key-of-cart-two-0002")));
  settle();
  desk.shut_out(CartIx{0}, "revoked");
  EXPECT_EQ(before->code, number(CloseCode::wrong_key));
  EXPECT_EQ(before->reason, "revoked");
  EXPECT_EQ(beside->code, 0);
  settle();
  auto again = open();
  again->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  EXPECT_EQ(again->code, number(CloseCode::wrong_key));
  EXPECT_TRUE(inbox.posted.empty());
  desk.let_in_again(CartIx{0});
  auto right = open();
  right->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  settle();
  EXPECT_EQ(right->sent.size(), 1u);
}

TEST_F(CartDeskTest, SecondConnectionIsClosedAndTheFirstUndisturbed) {
  auto first = connected();
  auto second = open();
  second->receive(text(hello("cart-1", "key-of-cart-one-0001", "b2")));
  EXPECT_EQ(second->code, number(CloseCode::duplicate));
  EXPECT_TRUE(inbox.posted.empty());
  EXPECT_EQ(first->code, 0);
  first->receive(text(protocol::Read{1, "04A1B2C3", 0}));
  settle();
  EXPECT_EQ(std::get<protocol::Ack>(last(*first)).seq, 1u);
}

TEST_F(CartDeskTest, NothingBeforeHelloAndNoSecondHello) {
  auto early = open();
  early->receive(text(protocol::Read{1, "04A1B2C3", 0}));
  EXPECT_EQ(early->code, number(CloseCode::out_of_order));
  EXPECT_TRUE(inbox.posted.empty());
  auto twice = connected();
  twice->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  EXPECT_EQ(twice->code, number(CloseCode::out_of_order));
  ASSERT_EQ(inbox.posted.size(), 1u);
  EXPECT_TRUE(std::holds_alternative<control::CartLinkLost>(inbox.posted[0].first));
}

TEST_F(CartDeskTest, MalformedFrameNamesThePlace) {
  auto link = connected();
  link->receive(R"({"type":"state","seq":1,"battery":140,"loaded":false,"moving":false})");
  EXPECT_EQ(link->code, number(CloseCode::malformed));
  EXPECT_NE(link->reason.find("/battery"), std::string::npos) << link->reason;
}

TEST_F(CartDeskTest, AMessageSentAgainCountsOnce) {
  auto link = connected();
  link->receive(text(protocol::Read{3, "04A1B2C3", 0}));
  link->receive(text(protocol::Read{3, "04A1B2C3", 0}));
  link->receive(text(protocol::Read{2, "04A1B2C4", 0}));
  EXPECT_EQ(inbox.posted.size(), 1u);
  settle();
  const std::size_t before = link->sent.size();
  link->receive(text(protocol::Read{2, "04A1B2C4", 0}));
  EXPECT_TRUE(inbox.posted.empty());
  ASSERT_EQ(link->sent.size(), before + 1);  // acknowledged again
  EXPECT_EQ(std::get<protocol::Ack>(last(*link)).seq, 3u);
}

TEST_F(CartDeskTest, NothingIsAcknowledgedBeforeItHasTakenEffect) {
  auto link = connected();
  const std::size_t before = link->sent.size();
  link->receive(text(protocol::Done{1, 4, protocol::Handling::load}));
  EXPECT_EQ(link->sent.size(), before);
  settle();
  EXPECT_EQ(std::get<protocol::Ack>(last(*link)).seq, 1u);
}

TEST_F(CartDeskTest, AckComesBeforeTheMessagesItCaused) {
  auto link = connected();
  link->receive(text(protocol::Read{1, "04A1B2C3", 0}));
  Release release;
  release.origin = inbox.posted.front().second;
  inbox.posted.clear();
  release.messages.emplace_back(control::TellHold{CartIx{0}, "waits"});
  desk.deliver(release);
  ASSERT_GE(link->sent.size(), 2u);
  const auto before_last = std::get<protocol::ServiceMessage>(
      protocol::decode_service_message(link->sent[link->sent.size() - 2]));
  EXPECT_TRUE(std::holds_alternative<protocol::Ack>(before_last));
  EXPECT_TRUE(std::holds_alternative<protocol::Hold>(last(*link)));
}

TEST_F(CartDeskTest, SameBootGoesOnCountingANewBootBeginsAgain) {
  auto link = connected("b1");
  link->receive(text(protocol::Read{1, "04A1B2C3", 0}));
  link->receive(text(protocol::Read{2, "04A1B2C4", 0}));
  settle();
  link->drop();
  ASSERT_EQ(inbox.posted.size(), 1u);
  EXPECT_TRUE(std::holds_alternative<control::CartLinkLost>(inbox.posted[0].first));
  settle();

  auto again = open();
  again->receive(text(hello("cart-1", "key-of-cart-one-0001", "b1")));
  EXPECT_FALSE(std::get<control::CartGreets>(inbox.posted.back().first).rebooted);
  settle();
  EXPECT_EQ(std::get<protocol::Welcome>(last(*again)).seq, 2u);
  again->drop();
  settle();

  auto rebooted = open();
  rebooted->receive(text(hello("cart-1", "key-of-cart-one-0001", "b2")));
  EXPECT_TRUE(std::get<control::CartGreets>(inbox.posted.back().first).rebooted);
  settle();
  EXPECT_EQ(std::get<protocol::Welcome>(last(*rebooted)).seq, 0u);
  rebooted->receive(text(protocol::Read{1, "04A1B2C3", 0}));
  EXPECT_EQ(inbox.posted.size(), 1u);
}

TEST_F(CartDeskTest, NoMessageBeforeWelcome) {
  auto link = open();
  link->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  Release other;
  other.messages.emplace_back(control::TellHold{CartIx{0}, "meant for the link before"});
  desk.deliver(other);
  EXPECT_TRUE(link->sent.empty());
  settle();
  ASSERT_EQ(link->sent.size(), 1u);
  EXPECT_TRUE(std::holds_alternative<protocol::Welcome>(last(*link)));
}

TEST_F(CartDeskTest, AFloodIsHeldBackAtItsSender) {
  auto link = connected();
  for (protocol::Seq seq = 1; seq <= CartDesk::most_in_flight; ++seq)
    link->receive(text(protocol::Read{seq, "04A1B2C3", 0}));
  EXPECT_TRUE(link->paused);
  settle();
  EXPECT_FALSE(link->paused);
}

TEST_F(CartDeskTest, AfterManyWrongKeysAGreetingIsLookedAtLate) {
  const Budget::Time start{std::chrono::seconds(1'000)};
  desk.tick(start);
  const auto from = [&](const char* address) {
    return std::make_unique<FakeLink>(desk.new_peer(address));
  };
  for (int k = 0; k < 10; ++k) {
    auto link = from("10.0.0.1");
    link->receive(text(hello("cart-1", "a-wrong-key-00000001")));
    ASSERT_EQ(link->code, number(CloseCode::wrong_key)) << k;
  }
  auto wrong = from("10.0.0.1"), right = from("10.0.0.1"), gone = from("10.0.0.1");
  wrong->receive(text(hello("cart-1", "a-wrong-key-00000001")));
  right->receive(text(hello("cart-1", "key-of-cart-one-0001")));
  gone->receive(text(hello("cart-2", "key-of-cart-two-0002")));
  EXPECT_TRUE(wrong->paused && right->paused);
  gone->drop();
  auto elsewhere = from("10.0.0.2");
  elsewhere->receive(text(hello("cart-2", "key-of-cart-two-0002")));
  EXPECT_EQ(inbox.posted.size(), 1u);  // at once
  desk.tick(start + CartDesk::delay_of_suspects - std::chrono::milliseconds(1));
  EXPECT_EQ(wrong->code, 0);
  EXPECT_EQ(inbox.posted.size(), 1u);
  desk.tick(start + CartDesk::delay_of_suspects);
  EXPECT_EQ(wrong->code, number(CloseCode::wrong_key));
  EXPECT_FALSE(right->paused);
  ASSERT_EQ(inbox.posted.size(), 2u);
  EXPECT_EQ(std::get<control::CartGreets>(inbox.posted[1].first).cart, CartIx{0});
}

TEST_F(CartDeskTest, AFasterClockMayBringMoreMessages) {
  EXPECT_EQ(CartDesk::rules("tagline.cart.1", 1).texts.per_second, 20);
  EXPECT_EQ(CartDesk::rules("tagline.cart.1", 1).texts.at_once, 100);
  EXPECT_EQ(CartDesk::rules("tagline.cart.1", 60).texts.per_second, 1'200);
  EXPECT_EQ(CartDesk::rules("tagline.cart.1", 1).subprotocol, "tagline.cart.1");
}

TEST_F(CartDeskTest, ClosingAllOnPurposePostsNothing) {
  auto link = connected();
  desk.close_all(CloseCode::shutting_down, "stopping");
  EXPECT_EQ(link->code, number(CloseCode::shutting_down));
  EXPECT_TRUE(inbox.posted.empty());
}

}  // namespace
}  // namespace tagline::net::test
