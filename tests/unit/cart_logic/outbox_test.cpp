// The cart's outgoing messages: numbered in order, kept until taken, sent again after a lost link.
#include "protocol/cart/outbox.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <vector>

namespace tagline::cart {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

Event event(EventKind kind, Step step = 0) {
  return {kind, step, no_tag(), Handling::none, StopCause::button};
}

std::vector<Seq> sent(Outbox& outbox) {
  std::vector<Seq> numbers;
  for (Outgoing out{}; outbox.next(out);) numbers.push_back(out.seq);
  return numbers;
}

TEST(Outbox, NumbersFromOneAndGivesEachOnce) {
  Outbox outbox;
  EXPECT_THAT(sent(outbox), IsEmpty());
  EXPECT_TRUE(outbox.keep(event(EventKind::read, 2)));
  EXPECT_TRUE(outbox.keep(event(EventKind::done, 3)));
  EXPECT_THAT(sent(outbox), ElementsAre(1, 2));
  EXPECT_THAT(sent(outbox), IsEmpty());
  EXPECT_EQ(outbox.number_state(), 3U);
  EXPECT_TRUE(outbox.keep(event(EventKind::read, 4)));
  EXPECT_THAT(sent(outbox), ElementsAre(4));
}

TEST(Outbox, AnAckCoversAllUpToIt) {
  Outbox outbox;
  for (Step step = 1; step <= 4; ++step) outbox.keep(event(EventKind::read, step));
  EXPECT_THAT(sent(outbox), ElementsAre(1, 2, 3, 4));
  outbox.on_ack(3);
  EXPECT_EQ(outbox.kept(), 1);
  outbox.on_ack(2);  // late
  EXPECT_EQ(outbox.kept(), 1);
  EXPECT_THAT(sent(outbox), IsEmpty());
  outbox.keep(event(EventKind::read, 5));
  EXPECT_THAT(sent(outbox), ElementsAre(5));
}

TEST(Outbox, AfterWelcomeSendsTheRestAgainWithItsNumbers) {
  Outbox outbox;
  outbox.keep(event(EventKind::read, 1));
  outbox.keep(event(EventKind::done, 1));
  EXPECT_THAT(sent(outbox), ElementsAre(1, 2));
  outbox.keep(event(EventKind::read, 2));  // while the link is down
  outbox.on_welcome(1);
  EXPECT_THAT(sent(outbox), ElementsAre(2, 3));
  outbox.on_welcome(0);  // the service restarted and has nothing of this boot
  EXPECT_THAT(sent(outbox), ElementsAre(2, 3));
  outbox.on_welcome(3);
  EXPECT_THAT(sent(outbox), IsEmpty());
}

TEST(Outbox, FullItDropsTheOldestReadAndNothingElse) {
  Outbox outbox;
  outbox.keep(event(EventKind::stop));
  outbox.keep(event(EventKind::read, 1));
  for (std::uint8_t i = 2; i < Outbox::room; ++i) outbox.keep(event(EventKind::done, i));
  EXPECT_THAT(sent(outbox), testing::SizeIs(Outbox::room));
  EXPECT_TRUE(outbox.has_room());
  EXPECT_TRUE(outbox.keep(event(EventKind::read, 99)));
  EXPECT_THAT(sent(outbox), ElementsAre(Outbox::room + 1));
  EXPECT_TRUE(outbox.keep(event(EventKind::stop)));  // drops read 99
  EXPECT_FALSE(outbox.has_room());
  EXPECT_FALSE(outbox.keep(event(EventKind::read, 100)));
  outbox.on_welcome(0);
  std::vector<Seq> expected{1};
  for (Seq seq = 3; seq <= Outbox::room; ++seq) expected.push_back(seq);
  expected.push_back(Outbox::room + 2);
  EXPECT_EQ(sent(outbox), expected);
}

TEST(Outbox, PowerUpBeginsAtOneAgain) {
  Outbox outbox;
  outbox.keep(event(EventKind::stop));
  outbox.clear();
  EXPECT_THAT(sent(outbox), IsEmpty());
  EXPECT_EQ(outbox.number_state(), 1U);
}

}  // namespace
}  // namespace tagline::cart
