// Events go through a block and come back; what is no block is refused, whatever it is.
#include "server/replay/block.hpp"

#include <gmock/gmock.h>

#include "server/control/event_names.hpp"
#include "server/replay/seal.hpp"
#include "server/sim/fleet_trace.hpp"
#include "tests/unit/replay/random_values.hpp"

namespace tagline::replay::test {
namespace {

using testing::HasSubstr;

constexpr Limits limits{
    .carts = 5, .points = 40, .poses = 90, .stations = 7, .segments = 50, .zones = 3};
const Instant start{Duration{1'800'000'000'000}};

EventReader own_reader() { return {event_layout(), limits}; }

/// Every kind of event in turn, with each of the three things that can come of one.
std::vector<TimedEvent> events_at_random(std::size_t count, std::uint64_t seed) {
  RandomValues random(seed, limits);
  std::vector<TimedEvent> all;
  Instant at = start;
  for (std::size_t k = 0; k < count; ++k) {
    at += Duration{static_cast<std::int64_t>(random.below(70'000))};
    Digest digest;
    digest.what = static_cast<Digest::What>(k % 3);
    if (digest.what == Digest::What::something) digest.value = random.make<std::uint64_t>();
    all.push_back({at, random.event(k % std::variant_size_v<control::Event>), digest});
  }
  return all;
}

Block block_of(const std::vector<TimedEvent>& events) {
  Block block;
  for (const TimedEvent& event : events) block.add(event);
  return block;
}

/// What reading `bytes` is refused with; "" if it is not.
std::string refusal(std::string_view bytes) {
  try {
    (void)read_block(bytes, start, own_reader());
  } catch (const BadBytes& error) {
    return error.what();
  }
  return "";
}

TEST(Block, EveryKindOfEventComesBack) {
  const auto events = events_at_random(60 * std::variant_size_v<control::Event>, 1);
  const Block block = block_of(events);
  EXPECT_EQ(block.count(), events.size());
  EXPECT_EQ(block.ends(), events.back().at);
  const BlockRead read = read_block(block.bytes(), block.begins(), own_reader());
  ASSERT_EQ(read.entries.size(), events.size());
  Chain chain;
  for (std::size_t k = 0; k < events.size(); ++k) {
    const Entry& entry = read.entries[k];
    EXPECT_EQ(entry.at, events[k].at);
    EXPECT_EQ(entry.event.index(), events[k].event.index());
    // The text of a trace lists the members by itself.
    EXPECT_EQ(sim::event_json(entry.event), sim::event_json(events[k].event));
    EXPECT_EQ(entry.what, events[k].digest.what);
    EXPECT_EQ(entry.short_digest, short_of(events[k].digest));
    chain.add(events[k].digest);
  }
  EXPECT_EQ(read.chain, chain.value());
}

TEST(Block, AQuietTickTakesThreeBytes) {
  Block block;
  block.add({start, control::Tick{}, {}});
  const std::size_t first = block.size();
  block.add({start + Duration{1'000}, control::Tick{}, {}});
  EXPECT_EQ(block.size() - first, 3U);
}

TEST(Block, AnyBitThatIsWrongIsNoticed) {
  const std::string bytes = block_of(events_at_random(60, 2)).bytes();
  for (std::size_t bit = 0; bit < bytes.size() * 8; ++bit) {
    std::string damaged = bytes;
    damaged[bit / 8] = static_cast<char>(damaged[bit / 8] ^ (1 << (bit % 8)));
    ASSERT_THAT(refusal(damaged), HasSubstr("damaged")) << "bit " << bit;
  }
  for (std::size_t length = 0; length < bytes.size(); ++length)
    ASSERT_NE(refusal(bytes.substr(0, length)), "") << "cut off at " << length;
}

/// What no accident makes, a hand can: then there is a clear word, and never more than that.
TEST(Block, WrongBytesUnderARightSealNeverDoHarm) {
  const std::string bytes = block_of(events_at_random(60, 3)).bytes();
  const std::string inner(unsealed(bytes));
  RandomValues random(4, limits);
  std::size_t refused = 0, read = 0;
  for (int round = 0; round < 5'000; ++round) {
    std::string changed = inner;
    for (std::uint64_t k = random.below(4) + 1; k-- > 0;) {
      const std::size_t at = random.below(changed.size());
      switch (random.below(3)) {
        case 0:
          changed[at] = static_cast<char>(random.below(256));
          break;
        case 1:
          changed.erase(at, random.below(9) + 1);
          break;
        default:
          changed.insert(at, random.below(9) + 1, static_cast<char>(random.below(256)));
          break;
      }
    }
    (refusal(sealed(std::move(changed))).empty() ? read : refused) += 1;
  }
  EXPECT_GT(refused, 500U);
  EXPECT_GT(read, 30U);  // a changed number is still a number
}

TEST(Block, AnIndexBeyondWhatThereIsIsRefused) {
  const EventReader few(
      event_layout(),
      {.carts = 2, .points = 1, .poses = 1, .stations = 1, .segments = 1, .zones = 1});
  Block block;
  block.add({start, control::CartReleased{{2}}, {}});
  try {
    (void)read_block(block.bytes(), start, few);
    ADD_FAILURE() << "not refused";
  } catch (const BadBytes& error) {
    EXPECT_THAT(error.what(), HasSubstr("names a cart"));
  }
}

TEST(Block, AnOlderProgramsOrderOfKindsIsUnderstoodAndOtherPartsAreNot) {
  // As if a kind had been put before "reads" since, and "stopped" had got another member.
  const std::string older = "reads(xsu)\ntick()\nstopped(x)\n";
  const EventReader reader(older, limits);
  Bytes bytes;
  put(bytes, control::CartReads{{3}, "04A1", 7});
  In in(bytes.all, limits);
  const control::Event event = reader.read(0, in);
  ASSERT_TRUE(std::holds_alternative<control::CartReads>(event));
  EXPECT_EQ(std::get<control::CartReads>(event).step, 7U);
  EXPECT_TRUE(std::holds_alternative<control::Tick>(reader.read(1, in)));
  try {
    (void)reader.read(2, in);
    ADD_FAILURE() << "not refused";
  } catch (const BadBytes& error) {
    EXPECT_THAT(error.what(), HasSubstr("\"stopped\" as another version"));
  }
  EXPECT_THROW((void)reader.read(3, in), BadBytes);
}

TEST(Block, NoTwoKindsHaveOneWord) {
  std::set<std::string_view> words;
  RandomValues random(5, limits);
  for (std::size_t place = 0; place < std::variant_size_v<control::Event>; ++place)
    words.insert(control::name_of(random.event(place)));
  EXPECT_EQ(words.size(), std::variant_size_v<control::Event>);
}

}  // namespace
}  // namespace tagline::replay::test
