// What a full queue lets go of.
#include "protocol/cart/event_queue.hpp"

#include <gmock/gmock.h>

#include <vector>

namespace tagline::cart::test {
namespace {

using testing::ElementsAre;

Event event_of(EventKind kind, Step step) {
  Event event{};
  event.kind = kind;
  event.step = step;
  return event;
}

std::vector<Step> steps_in(EventQueue queue) {
  std::vector<Step> steps;
  for (Event event{}; queue.pop(event);) steps.push_back(event.step);
  return steps;
}

TEST(EventQueue, FullItLetsGoOfReadsThenOfStopsAndNeverOfADone) {
  EventQueue queue;
  Event event{};
  queue.push(event_of(EventKind::stop, 90));  // the ring need not begin at its first place
  ASSERT_TRUE(queue.pop(event));
  queue.push(event_of(EventKind::done, 1));
  queue.push(event_of(EventKind::stop, 2));
  queue.push(event_of(EventKind::read, 3));
  for (Step step = 4; step <= 8; ++step)
    queue.push(event_of(step % 2 == 0 ? EventKind::release : EventKind::stop, step));
  queue.push(event_of(EventKind::read, 9));
  EXPECT_THAT(steps_in(queue), ElementsAre(1, 2, 3, 4, 5, 6, 7, 8)) << "a read has no room";
  queue.push(event_of(EventKind::stop, 10));
  EXPECT_THAT(steps_in(queue), ElementsAre(1, 2, 4, 5, 6, 7, 8, 10)) << "the read goes first";
  queue.push(event_of(EventKind::done, 11));
  EXPECT_THAT(steps_in(queue), ElementsAre(1, 4, 5, 6, 7, 8, 10, 11)) << "then the oldest stop";
  for (Step step = 12; step <= 18; ++step) queue.push(event_of(EventKind::release, step));
  EXPECT_THAT(steps_in(queue), ElementsAre(1, 11, 13, 14, 15, 16, 17, 18)) << "a done stays";
}

}  // namespace
}  // namespace tagline::cart::test
