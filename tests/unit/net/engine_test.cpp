// What the engine gives the journal: every event with what came of it, also the one that breaks the
// core.
#include "server/net/engine.hpp"

#include <gmock/gmock.h>

#include <atomic>
#include <future>
#include <thread>

#include "tests/support/small_floors.hpp"
#include "tests/unit/net/fakes.hpp"

namespace tagline::net::test {
namespace {

class KeepingJournal : public Journal {
 public:
  void write(Instant, std::span<const Batch> batches) override {
    for (const Batch& batch : batches) {
      events.insert(events.end(), batch.events.begin(), batch.events.end());
      if (batch.ending) endings.push_back(*batch.ending);
    }
  }
  std::optional<control::Job> job(control::JobId) override { return std::nullopt; }
  std::vector<replay::TimedEvent> events;
  std::vector<std::string> endings;
};

class SilentOutbox : public Outbox {
 public:
  void release(Release) override {}
  void store_failed(const std::string&) override {}
  void core_failed(const std::string& why) override { failed = why; }
  std::string failed;
};

class EngineTest : public ::testing::Test {
 protected:
  /// Runs an engine on these events until it has handled them all.
  void run(const std::vector<control::Event>& events, Engine::Decide decide = {}) {
    Engine engine(core, floor.stations.size(), journal, clock, outbox, std::move(decide));
    engine.start();
    for (const control::Event& event : events) engine.post(event, std::nullopt);
    engine.stop();
    std::erase_if(journal.events, [](const replay::TimedEvent& event) {
      return std::holds_alternative<control::Tick>(event.event);
    });
  }
  const floor::Floor floor{tagline::test::loop_with_bay()};
  const floor::Ways ways{floor};
  const floor::Track track{ways};
  const ServiceClock clock{Instant{}, 1};
  const Instant began{clock.now()};
  control::Core core{track, {"cart-1"}, {}, {}, began};
  KeepingJournal journal;
  SilentOutbox outbox;
};

TEST_F(EngineTest, EveryEventIsInTheJournalWithWhatCameOfIt) {
  run({control::AskStopAll{1}, control::CartLinkLost{{0}}, control::AskReleaseAll{2}});
  ASSERT_EQ(journal.events.size(), 3U);
  control::Core again{track, {"cart-1"}, {}, {}, began};
  for (const replay::TimedEvent& event : journal.events)
    EXPECT_EQ(replay::digest_of(again.handle(event.at, event.event)), event.digest);
  EXPECT_EQ(std::get<control::AskReleaseAll>(journal.events[2].event).request, 2U);
  EXPECT_THAT(journal.endings, testing::ElementsAre("stopped"));
}

TEST_F(EngineTest, TheEventThatBreaksTheCoreIsTheLastInTheJournal) {
  run({control::AskStopAll{1}, control::AskStopCart{2, {0}}, control::AskReleaseAll{3}},
      [&](Instant now, const control::Event& event) {
        if (std::holds_alternative<control::AskStopCart>(event))
          throw std::logic_error("two carts hold P1");
        return core.handle(now, event);
      });
  ASSERT_EQ(journal.events.size(), 2U);
  EXPECT_EQ(journal.events[0].digest.what, replay::Digest::What::something);
  EXPECT_EQ(journal.events[1].digest.what, replay::Digest::What::broke);
  EXPECT_EQ(std::get<control::AskStopCart>(journal.events[1].event).request, 2U);
  EXPECT_THAT(journal.endings, testing::ElementsAre("two carts hold P1"));
  EXPECT_EQ(outbox.failed, "two carts hold P1");
}

TEST_F(EngineTest, HoweverManyPostAtOnceTheCoreHasOneEventAtATimeAndEveryOneOnce) {
  std::atomic<int> inside{0}, most_inside{0};
  std::vector<control::RequestId> handled;  // unguarded: a second thread in here is a data race
  Engine engine(core, floor.stations.size(), journal, clock, outbox,
                [&](Instant now, const control::Event& event) {
                  most_inside = std::max<int>(most_inside, ++inside);
                  if (const auto* stop = std::get_if<control::AskStopAll>(&event))
                    handled.push_back(stop->request);
                  control::Outcome outcome = core.handle(now, event);
                  --inside;
                  return outcome;
                });
  engine.start();
  constexpr control::RequestId each = 300;
  std::vector<std::thread> posters;
  for (control::RequestId k = 0; k < 4; ++k)
    posters.emplace_back([&engine, k] {
      for (control::RequestId n = 0; n < each; ++n)
        engine.post(control::AskStopAll{k * each + n}, std::nullopt);
    });
  for (std::thread& poster : posters) poster.join();
  engine.stop();
  EXPECT_EQ(most_inside, 1);
  // Each poster's own are in its order.
  std::vector<control::RequestId> next{0, each, 2 * each, 3 * each};
  for (const control::RequestId request : handled) EXPECT_EQ(request, next[request / each]++);
  EXPECT_EQ(handled.size(), 4 * each);
}

TEST_F(EngineTest, WhoPostsWhileTheCoreIsBusyDoesNotWaitForIt) {
  std::promise<void> begun, posted;
  Engine engine(core, floor.stations.size(), journal, clock, outbox,
                [&](Instant now, const control::Event& event) {
                  if (std::holds_alternative<control::AskStopAll>(event)) {
                    begun.set_value();
                    EXPECT_EQ(posted.get_future().wait_for(std::chrono::seconds(5)),
                              std::future_status::ready);
                  }
                  return core.handle(now, event);
                });
  engine.start();
  std::thread busy([&] { engine.post(control::AskStopAll{1}, std::nullopt); });
  begun.get_future().wait();
  engine.post(control::AskReleaseAll{2}, std::nullopt);
  posted.set_value();
  busy.join();
  engine.stop();
  EXPECT_FALSE(core.all_stopped()) << "the second event was left lying";
}

}  // namespace
}  // namespace tagline::net::test
