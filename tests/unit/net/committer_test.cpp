// Durable first, then out, in order.
#include "server/net/committer.hpp"

#include <gtest/gtest.h>

#include <condition_variable>
#include <future>
#include <stdexcept>

#include "tests/unit/net/fakes.hpp"

namespace tagline::net::test {
namespace {

using namespace std::chrono_literals;

/// A journal whose writes can be held back or made to fail.
class GatedJournal : public Journal {
 public:
  void write(Instant, std::span<const Batch> batches) override {
    std::unique_lock lock(mutex);
    ++entered;
    wake.notify_all();
    wake.wait(lock, [this] { return open; });
    if (fail) throw std::runtime_error("the disk is full");
    groups.push_back(batches.size());
    for (const Batch& batch : batches) {
      records += batch.records.size();
      trace += batch.trace.size();
      for (const access::Change& change : batch.access)
        if (const auto* entry = std::get_if<access::AuditEntry>(&change))
          audited.push_back(entry->who);
      for (const auto& event : batch.events) {
        events.push_back(event.at.time_since_epoch().count());
      }
      if (batch.ending) endings.push_back(*batch.ending);
    }
    wake.notify_all();
  }
  std::optional<control::Job> job(control::JobId id) override {
    control::Job found;
    found.id = id;
    return found;
  }
  void tidy(Instant) override {
    const std::lock_guard lock(mutex);
    ++tidied;
    wake.notify_all();
    if (fail_tidy) throw std::runtime_error("the disk is full");
  }
  bool wait_tidied(int times) {
    std::unique_lock lock(mutex);
    return wake.wait_for(lock, 5s, [&] { return tidied >= times; });
  }
  std::size_t events_within(std::chrono::milliseconds time, std::size_t wanted) {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, time, [&] { return events.size() >= wanted; });
    return events.size();
  }
  void set_open(bool value) {
    const std::lock_guard lock(mutex);
    open = value;
    wake.notify_all();
  }
  void wait_entered(int count) {
    std::unique_lock lock(mutex);
    ASSERT_TRUE(wake.wait_for(lock, 5s, [&] { return entered >= count; }));
  }
  std::size_t traces_within(std::chrono::milliseconds time) {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, time, [&] { return trace > 0; });
    return trace;
  }

  std::vector<std::string> audited_within(std::chrono::milliseconds time, std::size_t wanted) {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, time, [&] { return audited.size() >= wanted; });
    return audited;
  }

  std::mutex mutex;
  std::condition_variable wake;
  bool open{true}, fail{false}, fail_tidy{false};
  int entered{0}, tidied{0};
  std::vector<std::int64_t> events;
  std::vector<std::string> endings, audited;
  std::vector<std::size_t> groups;
  std::size_t records{0}, trace{0};
};

class ListOutbox : public Outbox {
 public:
  void release(Release one) override {
    const std::lock_guard lock(mutex);
    out.push_back(one.at.time_since_epoch().count());
    wake.notify_all();
  }
  void store_failed(const std::string& why) override {
    const std::lock_guard lock(mutex);
    failure = why;
    wake.notify_all();
  }
  void core_failed(const std::string&) override {}
  std::vector<std::int64_t> wait_for(std::size_t count) {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, 5s, [&] { return out.size() >= count; });
    return out;
  }
  std::string wait_failure() {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, 5s, [&] { return !failure.empty(); });
    return failure;
  }
  std::mutex mutex;
  std::condition_variable wake;
  std::vector<std::int64_t> out;
  std::string failure;
};

Release numbered(std::int64_t number) {
  Release release;
  release.at = Instant{Duration{number}};
  return release;
}
Batch with_record() {
  Batch batch;
  batch.records.emplace_back(control::FleetRecord{});
  return batch;
}
Batch with_trace() {
  Batch batch;
  // Copied, not moved: g++ 12 takes what it would move for uninitialised.
  const TimedTrace one{Instant{}, control::UnknownTagTrace{CartIx{0}, "04A1B2C3"}};
  batch.trace.push_back(one);
  return batch;
}

/// An event at that moment; a quiet one came to nothing.
Batch with_event(std::int64_t at, bool quiet) {
  Batch batch;
  batch.events.push_back(
      {Instant{Duration{at}},
       control::Tick{},
       {quiet ? replay::Digest::What::nothing : replay::Digest::What::something, 0}});
  return batch;
}

TEST(Committer, NothingGoesOutBeforeItIsDurableAndOrderIsKept) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.set_open(false);
  committer.submit({}, with_record(), numbered(1));
  journal.wait_entered(1);
  committer.submit({}, {}, numbered(2));  // nothing to record, but behind number 1
  committer.submit({}, with_record(), numbered(3));
  committer.submit({}, with_record(), numbered(4));
  {
    const std::lock_guard lock(outbox.mutex);
    EXPECT_TRUE(outbox.out.empty());
  }
  journal.set_open(true);
  EXPECT_EQ(outbox.wait_for(4), (std::vector<std::int64_t>{1, 2, 3, 4}));
  // What waited during the first write went together into the second.
  const std::lock_guard lock(journal.mutex);
  EXPECT_EQ(journal.groups, (std::vector<std::size_t>{1, 3}));
}

TEST(Committer, WithNothingToRecordAndNothingPendingItGoesStraightOut) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.submit({}, {}, numbered(1));
  EXPECT_EQ(outbox.out, (std::vector<std::int64_t>{1}));  // on this very thread
  EXPECT_EQ(journal.entered, 0);
}

TEST(Committer, TraceIsWrittenBehindWithinItsDelay) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.submit({}, with_trace(), numbered(1));
  EXPECT_EQ(outbox.out.size(), 1u);
  EXPECT_EQ(journal.traces_within(Committer::trace_delay / 4), 0u);
  EXPECT_EQ(journal.traces_within(Committer::trace_delay * 8), 1u);
}

TEST(Committer, TraceThatIsBeingWrittenKeepsNobodyWaiting) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.set_open(false);
  committer.submit({}, with_trace(), numbered(1));
  journal.wait_entered(1);
  committer.submit({}, {}, numbered(2));
  committer.submit({}, with_record(), numbered(3));  // this one must wait, and what comes after it
  committer.submit({}, {}, numbered(4));
  {
    const std::lock_guard lock(outbox.mutex);
    EXPECT_EQ(outbox.out, (std::vector<std::int64_t>{1, 2}));
  }
  journal.set_open(true);
  EXPECT_EQ(outbox.wait_for(4), (std::vector<std::int64_t>{1, 2, 3, 4}));
}

TEST(Committer, MessagesToCartsThatNothingUnwrittenConcernsGoFirstAndTheirViewsKeepTheirPlace) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.set_open(false);
  Batch of_a_job;
  of_a_job.records.emplace_back(control::PathRecord{CartIx{0}, 1, std::nullopt, {{}}});
  committer.submit({}, std::move(of_a_job), numbered(1));
  journal.wait_entered(1);
  const auto to_cart = [](std::int64_t number, std::uint32_t cart) {
    Release release = numbered(number);
    release.messages.emplace_back(control::TellAuthority{CartIx{cart}, 1, {}});
    return release;
  };
  committer.submit({}, with_event(2, false), to_cart(2, 1));
  committer.submit({}, with_event(3, false), to_cart(3, 0));
  committer.submit({}, with_event(4, false), to_cart(4, 1));
  {
    const std::lock_guard lock(outbox.mutex);
    EXPECT_EQ(outbox.out, (std::vector<std::int64_t>{2, 4}));
  }
  journal.set_open(true);
  EXPECT_EQ(outbox.wait_for(6), (std::vector<std::int64_t>{2, 4, 1, 2, 3, 4}));
  committer.stop();
  EXPECT_EQ(journal.events, (std::vector<std::int64_t>{2, 3, 4}));
}

TEST(Committer, AfterTraceFailedToBeWrittenNothingMoreGoesOut) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.fail = true;
  committer.submit({}, with_trace(), numbered(1));
  EXPECT_EQ(outbox.wait_failure(), "the disk is full");
  committer.submit({}, {}, numbered(2));
  EXPECT_EQ(outbox.out, (std::vector<std::int64_t>{1}));
}

TEST(Committer, TraceGoesAlongWithTheNextGroup) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.submit({}, with_trace(), numbered(1));
  committer.submit({}, with_record(), numbered(2));
  outbox.wait_for(2);
  const std::lock_guard lock(journal.mutex);
  EXPECT_EQ(journal.entered, 1);
  EXPECT_EQ(journal.trace, 1u);
}

TEST(Committer, AfterAFailedWriteNothingMoreGoesOut) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.fail = true;
  committer.submit({}, with_record(), numbered(1));
  EXPECT_EQ(outbox.wait_failure(), "the disk is full");
  journal.fail = false;
  committer.submit({}, with_record(), numbered(2));
  committer.submit({}, {}, numbered(3));
  committer.stop();
  EXPECT_TRUE(outbox.out.empty());
  EXPECT_EQ(journal.records, 0u);
}

TEST(Committer, StopWritesWhatWaits) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.submit({}, with_record(), numbered(1));
  committer.submit({}, with_trace(), numbered(2));
  committer.stop();
  EXPECT_EQ(journal.records, 1u);
  EXPECT_EQ(journal.trace, 1u);
  EXPECT_EQ(outbox.out.size(), 2u);
}

TEST(Committer, EventsAreWrittenBehindAndKeepNothingWaiting) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.submit({}, with_event(1, true), numbered(1));
  EXPECT_EQ(outbox.out.size(), 1u);  // on this very thread
  // A quiet one waits for company; a loud one takes it along in its own time.
  EXPECT_EQ(journal.events_within(Committer::trace_delay * 2, 1), 0u);
  committer.submit({}, with_event(2, false), numbered(2));
  EXPECT_EQ(journal.events_within(Committer::trace_delay / 4, 1), 0u);
  EXPECT_EQ(journal.events_within(Committer::trace_delay * 8, 2), 2u);
  const std::lock_guard lock(journal.mutex);
  EXPECT_EQ(journal.entered, 1);
}

TEST(Committer, EventsKeepTheirOrderHoweverTheyAreWritten) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  std::vector<std::int64_t> expected;
  for (std::int64_t k = 0; k < 400; ++k) {
    Batch batch = with_event(k, k % 3 == 0);
    if (k % 7 == 3) batch.records.emplace_back(control::FleetRecord{});
    committer.submit({}, std::move(batch), numbered(k));
    expected.push_back(k);
    if (k % 50 == 0) std::this_thread::sleep_for(2ms);
  }
  committer.note(with_event(400, false));
  expected.push_back(400);
  Batch ending;
  ending.ending = "stopped";
  committer.note(std::move(ending));
  committer.stop();
  EXPECT_EQ(journal.events, expected);
  EXPECT_EQ(journal.endings, std::vector<std::string>{"stopped"});
  EXPECT_EQ(outbox.out.size(), 400u);
}

TEST(Committer, TidiesNowAndThenAndAFailureOfThatStopsNothing) {
  GatedJournal journal;
  journal.fail_tidy = true;
  ListOutbox outbox;
  Committer committer(journal, outbox, 20ms);
  EXPECT_TRUE(journal.wait_tidied(3));
  committer.submit({}, with_record(), numbered(1));
  EXPECT_EQ(outbox.wait_for(1).size(), 1u);
  EXPECT_TRUE(outbox.failure.empty());
}

std::vector<access::Change> by(const std::string& who) {
  return {access::AuditEntry{0, Instant{}, who, "stop_cart", "carts/cart-1", "", "done"}};
}

TEST(Committer, WhatIsKeptIsOnDiskWhenThatIsSaid) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  journal.set_open(false);
  std::promise<bool> said;
  auto future = said.get_future();
  committer.keep(by("Otto"), [&](bool stored) { said.set_value(stored); });
  journal.wait_entered(1);
  // It holds nobody up: what needs no writing goes straight out meanwhile.
  committer.submit({}, {}, numbered(1));
  EXPECT_EQ(outbox.wait_for(1), std::vector<std::int64_t>{1});
  EXPECT_EQ(future.wait_for(50ms), std::future_status::timeout);
  journal.set_open(true);
  ASSERT_EQ(future.wait_for(5s), std::future_status::ready);
  EXPECT_TRUE(future.get());
  EXPECT_EQ(journal.audited_within(0ms, 1), std::vector<std::string>{"Otto"});
}

TEST(Committer, WhatNobodyWaitsForIsKeptBehindAndInOrder) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  committer.keep(by("first"));
  EXPECT_TRUE(journal.audited_within(100ms, 1).empty()) << "it costs no write of its own at once";
  std::promise<bool> said;
  committer.keep(by("second"), [&](bool stored) { said.set_value(stored); });
  EXPECT_EQ(journal.audited_within(5s, 2), (std::vector<std::string>{"first", "second"}));
  committer.keep(by("third"));
  EXPECT_EQ(journal.audited_within(5s, 3).size(), 3u);
  committer.keep(by("last"));
  committer.stop();
  EXPECT_EQ(journal.audited_within(0ms, 4).back(), "last");
  // Answers still go out while the service ends.
  committer.keep(by("farewell"));
  bool stored = true;
  committer.keep(by("too late"), [&](bool ok) { stored = ok; });
  EXPECT_FALSE(stored);
  committer.stop();
  EXPECT_EQ(journal.audited_within(0ms, 5).back(), "farewell");
}

TEST(Committer, WhoLooksFindsWhatWasKeptBefore) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  std::promise<std::vector<std::string>> found;
  committer.keep(by("first"));
  committer.look_up([&](Journal&) { found.set_value(journal.audited_within(0ms, 1)); });
  auto future = found.get_future();
  ASSERT_EQ(future.wait_for(5s), std::future_status::ready);
  EXPECT_EQ(future.get(), std::vector<std::string>{"first"});
}

TEST(Committer, WhatCantBeKeptIsSaid) {
  GatedJournal journal;
  journal.fail = true;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  for (int k = 0; k < 2; ++k) {  // when it fails, and ever after
    std::promise<bool> said;
    auto future = said.get_future();
    committer.keep(by("Otto"), [&](bool stored) { said.set_value(stored); });
    ASSERT_EQ(future.wait_for(5s), std::future_status::ready);
    EXPECT_FALSE(future.get());
  }
  EXPECT_EQ(outbox.wait_failure(), "the disk is full");
}

TEST(Committer, LooksUpJobs) {
  GatedJournal journal;
  ListOutbox outbox;
  Committer committer(journal, outbox);
  std::promise<std::optional<control::Job>> found;
  committer.look_up([&](Journal& looked) { found.set_value(looked.job({77})); });
  auto future = found.get_future();
  ASSERT_EQ(future.wait_for(5s), std::future_status::ready);
  EXPECT_EQ(future.get()->id.value, 77u);
}

}  // namespace
}  // namespace tagline::net::test
