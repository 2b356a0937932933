// A works with carts that have bodies, poor links, unread tags and people who interfere, its
// journal on disk; then all that was decided once more from the journal alone: the same, byte for
// byte. And where something was changed, it is found at the very event where it first shows.
//
// TAGLINE_REPLAY_MINUTES sets the length, and TAGLINE_REPLAY_DATA a folder for the journal, which
// is then kept. Figures are printed.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <optional>

#include "server/floor/file.hpp"
#include "server/replay/rerun.hpp"
#include "server/store/runs.hpp"
#include "server/store/store.hpp"
#include "tests/scenario/closed_loop/closed_loop.hpp"

namespace tagline::test {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

constexpr std::size_t carts = 5;

floor::Floor demo_floor() {
  auto loaded = floor::load_floor(TAGLINE_SOURCE_DIR "/deploy/demo.floor.json");
  if (auto* floor = std::get_if<floor::Floor>(&loaded)) return std::move(*floor);
  throw std::runtime_error("the demo floor doesn't load");
}

int minutes() {
  const char* wanted = std::getenv("TAGLINE_REPLAY_MINUTES");
  return wanted == nullptr ? 10 : std::stoi(wanted);
}

class ReplayTest : public ::testing::Test {
 protected:
  static void SetUpTestSuite() { works_ = new Works; }
  static void TearDownTestSuite() {
    delete works_;
    works_ = nullptr;
  }

  /// A run that is over, and its journal.
  struct Works {
    Works() {
      const char* wanted = std::getenv("TAGLINE_REPLAY_DATA");
      std::string name = (fs::temp_directory_path() / "tagline-replay-XXXXXX").string();
      if (wanted != nullptr) {
        keep = true;
        name = wanted;
      } else if (mkdtemp(name.data()) == nullptr) {
        throw std::runtime_error("no temporary folder");
      }
      folder = name;
      store::Store store(folder / "data", ways, ClosedLoop::cart_names(carts));
      store.begin_run({"test",
                       floor.name,
                       floor::format_floor(floor),
                       {ClosedLoop::cart_names(carts), {}, {}, ClosedLoop::begins}});
      drive(store);
    }
    ~Works() {
      std::error_code ignored;
      if (!keep) fs::remove_all(folder, ignored);
    }
    Works(const Works&) = delete;
    Works& operator=(const Works&) = delete;

    void drive(store::Store& store) {
      std::vector<store::Batch> group;
      const auto commit = [&](Instant now) {
        store.write(now, group);
        group.clear();
      };
      ClosedLoop loop(
          track, carts, 11,
          {.miss_rate = 0.02,
           .stalls_per_hour = 20,
           .drops_per_hour = 30,
           .latency = Duration{300}},
          [&](Instant now, const control::Event& event, const control::Outcome& outcome) {
            outcomes.push_back(replay::outcome_bytes(outcome));
            store::Batch& batch = group.emplace_back();
            batch.records = outcome.records;
            for (const auto& trace : outcome.trace) batch.trace.push_back({now, trace});
            const auto before = Clock::now();
            batch.events.push_back({now, event, replay::digest_of(outcome)});
            noting += Clock::now() - before;
            if (group.size() >= 7) commit(now);
          });
      const auto& stations = floor.stations;
      for (int second = 0; second < minutes() * 60; ++second) {
        const CartIx one{static_cast<std::uint32_t>(loop.pick(carts))};
        if (loop.open_jobs() < carts + 4) {
          const auto from = loop.pick(stations.size());
          control::AskJob ask{
              .request = 1,
              .from = stations[from].id,
              .to = stations[(from + 1 + loop.pick(stations.size() - 1)) % stations.size()].id};
          ask.note = "load " + std::to_string(second);
          ask.key = second % 3 == 0 ? "key " + std::to_string(second) : "";
          if (second % 5 == 0) ask.due = ClosedLoop::begins + std::chrono::seconds{second + 600};
          ask.priority = second % 10;
          loop.act(ask);
        }
        // People: cancel, stop and release one or all, press a button, take a cart off and set it
        // down again, ask for what is not there.
        if (second % 41 == 7)
          loop.act(control::AskCancelJob{2, {static_cast<std::uint64_t>(second) / 9}});
        if (second % 97 == 20) loop.act(control::AskStopCart{3, one});
        if (second % 97 == 25) release_all(loop);
        if (second % 313 == 100) loop.act(control::AskStopAll{4});
        if (second % 313 == 110) {
          loop.act(control::AskReleaseAll{5});
          release_all(loop);
        }
        if (second % 171 == 90) loop.act(control::CartStopped{one, control::StopCause::bumper});
        if (second % 171 == 95) release_all(loop);
        if (second % 239 == 60) loop.act(control::AskPlaceCart{6, one, "nowhere", ""});
        if (second % 61 == 3) loop.act(control::CartReads{one, "FFFFFFFF", 1});
        if (second % 61 == 9) set_right(loop);
        // A board looks on, which must not change what is decided.
        for (std::uint32_t i = 0; i < carts; ++i) {
          (void)loop.core().cart({i});
          (void)loop.core().why(CartIx{i});
        }
        for (const control::Job* job : loop.core().jobs()) (void)loop.core().why(job->id);
        loop.run(std::chrono::seconds{1});
      }
      commit(ClosedLoop::begins);
      delivered = std::ranges::count_if(loop.core().jobs(), [](const control::Job* job) {
        return job->state == control::JobState::delivered;
      });
    }
    static void release_all(ClosedLoop& loop) {
      for (std::uint32_t i = 0; i < carts; ++i) {
        loop.act(control::CartReleased{{i}});
        loop.act(control::AskReleaseCart{7, {i}});
      }
    }
    /// Whoever is in doubt is placed where it is known to stand.
    static void set_right(ClosedLoop& loop) {
      for (std::uint32_t i = 0; i < carts; ++i) {
        const auto view = loop.core().cart({i});
        if (view.mode != control::CartMode::in_doubt || view.path.empty()) continue;
        loop.act(control::AskRemoveCart{8, {i}});
      }
    }

    fs::path folder;
    const floor::Floor floor{demo_floor()};
    const floor::Ways ways{floor};
    const floor::Track track{ways};
    std::vector<std::string> outcomes;
    std::ptrdiff_t delivered{};
    /// What the journal took of the thread that decides.
    Clock::duration noting{};
    bool keep{false};
  };

  /// Everything the journal has of the run.
  struct Kept {
    explicit Kept(const fs::path& data) : runs(data), source(runs.source(1).value()) {
      auto loaded = floor::parse_floor(source.floor_document);
      floor = std::get<floor::Floor>(std::move(loaded));
      ways = std::make_unique<floor::Ways>(floor);
      track = std::make_unique<floor::Track>(*ways);
      read = replay::start_from(source.start, *ways);
      const replay::EventReader reader(read.layout,
                                       replay::limits_of(*ways, read.start.cart_names.size()));
      for (std::int64_t next = source.first_block;;) {
        const auto some = runs.blocks(source, next);
        if (some.empty()) return;
        for (const store::KeptBlock& block : some) {
          next = block.block + 1;
          bytes += block.events.size();
          blocks.push_back(replay::read_block(block.events, block.begins, reader));
        }
      }
    }
    store::Runs runs;
    store::Runs::Source source;
    floor::Floor floor;
    std::unique_ptr<floor::Ways> ways;
    std::unique_ptr<floor::Track> track;
    replay::StartRead read;
    std::vector<replay::BlockRead> blocks;
    std::size_t bytes{0};
  };
  static Kept kept() { return Kept(works_->folder / "data"); }

  /// Feeds all events to a core; the number of the first whose outcome is not the one written down
  /// and, counted apart, of the first whose whole bytes are not those of the live run.
  struct Differences {
    std::optional<std::size_t> by_digest, by_bytes;
    std::size_t events{0};
  };
  static Differences feed(const Kept& kept) {
    replay::Rerun rerun(*kept.track, kept.read.start);
    Differences found;
    for (const replay::BlockRead& block : kept.blocks) {
      for (const replay::Entry& entry : block.entries) {
        const replay::Retold retold = rerun.feed(entry);
        const std::size_t number = found.events++;
        if (!retold.same && !found.by_digest) found.by_digest = number;
        if (replay::outcome_bytes(retold.outcome) != works_->outcomes.at(number) &&
            !found.by_bytes) {
          found.by_bytes = number;
        }
        if (retold.broke) ADD_FAILURE() << "event " << number << ": " << *retold.broke;
        if (found.by_digest && found.by_bytes) return found;
      }
      if (!rerun.block_ends(block.chain) && !found.by_digest) found.by_digest = found.events - 1;
    }
    return found;
  }

  static Works* works_;
};
ReplayTest::Works* ReplayTest::works_ = nullptr;

TEST_F(ReplayTest, TheSameIsDecidedByteForByte) {
  const Kept all = kept();
  const auto start = Clock::now();
  const Differences found = feed(all);
  const double seconds = std::chrono::duration<double>(Clock::now() - start).count();
  EXPECT_EQ(found.by_bytes, std::nullopt);
  EXPECT_EQ(found.by_digest, std::nullopt);
  EXPECT_EQ(found.events, works_->outcomes.size());
  // The run must have been worth it.
  EXPECT_GT(found.events, static_cast<std::size_t>(minutes()) * 100);
  EXPECT_GT(works_->delivered, minutes() / 4);
  std::array<std::size_t, std::variant_size_v<control::Event>> kinds{};
  for (const auto& block : all.blocks)
    for (const auto& entry : block.entries) ++kinds[entry.event.index()];
  for (const std::size_t index : {control::Event(control::CartReads{}).index(),
                                  control::Event(control::CartHandled{}).index(),
                                  control::Event(control::CartLinkLost{}).index(),
                                  control::Event(control::AskCancelJob{}).index(),
                                  control::Event(control::AskStopAll{}).index(),
                                  control::Event(control::AskReleaseCart{}).index(),
                                  control::Event(control::CartStopped{}).index()})
    EXPECT_GT(kinds.at(index), 0U) << "events of kind " << index;
  std::printf(
      "  %zu events, %td deliveries, %.1f bytes an event in blocks, %lld ns an event to note "
      "it; replay %.0f events/s\n",
      found.events, works_->delivered,
      static_cast<double>(all.bytes) / static_cast<double>(found.events),
      static_cast<long long>(
          std::chrono::duration_cast<std::chrono::nanoseconds>(works_->noting).count()) /
          static_cast<long long>(found.events),
      static_cast<double>(found.events) / seconds);
}

TEST_F(ReplayTest, AnotherPolicyIsFoundWhereItFirstDecidesOtherwise) {
  for (const auto& change : std::vector<std::function<void(control::Policy&)>>{
           [](control::Policy& policy) { policy.link_latency += Duration{3'000}; },
           [](control::Policy& policy) { policy.battery_low = policy.battery_ready = 101; }}) {
    Kept all = kept();
    change(all.read.start.policy);
    const Differences found = feed(all);
    ASSERT_TRUE(found.by_bytes) << "the change must make a difference";
    EXPECT_EQ(found.by_digest, found.by_bytes);
    EXPECT_GT(*found.by_bytes, 0U);
  }
}

TEST_F(ReplayTest, AChangedEventIsFoundWhereItFirstMatters) {
  // The read of a tag that lies on the way, in the middle of the run, by another tag: what comes of
  // that very event is different.
  Kept all = kept();
  std::size_t number = 0;
  std::optional<std::size_t> changed;
  for (auto& block : all.blocks) {
    for (auto& entry : block.entries) {
      auto* read = std::get_if<control::CartReads>(&entry.event);
      if (!changed && number > works_->outcomes.size() / 2 && read != nullptr &&
          entry.what == replay::Digest::What::something && read->tag != "FFFFFFFF") {
        read->tag = "EEEEEEEE";
        changed = number;
      }
      ++number;
    }
  }
  ASSERT_TRUE(changed);
  const Differences found = feed(all);
  EXPECT_EQ(found.by_digest, changed);
  EXPECT_EQ(found.by_bytes, changed);
}

TEST_F(ReplayTest, AnEventThatIsMissingIsFound) {
  Kept all = kept();
  auto& entries = all.blocks.at(all.blocks.size() / 2).entries;
  const auto lost = std::ranges::find_if(entries, [](const replay::Entry& entry) {
    return std::holds_alternative<control::CartReads>(entry.event);
  });
  ASSERT_NE(lost, entries.end());
  entries.erase(lost);
  EXPECT_TRUE(feed(all).by_digest);
}

}  // namespace
}  // namespace tagline::test
