// The bench program drives its trip on a simulated microcontroller and on this machine: both must
// say the same, line by line, and what they say must be right.
#include "tests/firmware/bench/trip.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include "simulate.hpp"

namespace tagline::firmware {
namespace {

/// One line: its time, the rest, and the number of a message.
struct Line {
  long time{0};
  std::string text{};
  std::optional<long> seq{};
};

std::string drive_here() {
  std::string output;
  bench::Lines lines{
      [](void* context, char byte) { static_cast<std::string*>(context)->push_back(byte); },
      &output};
  const auto bench = std::make_unique<bench::Bench>(lines);
  bench::run_trip(*bench);
  return output;
}

std::vector<Line> lines_of(const std::string& output) {
  std::vector<Line> lines;
  std::istringstream stream{output};
  for (Line line; stream >> line.time && std::getline(stream >> std::ws, line.text);) {
    const std::size_t number = line.text.find(" seq ");
    line.seq.reset();
    if (number != std::string::npos) {
      line.seq = std::strtol(line.text.c_str() + number + 5, nullptr, 10);
      line.text.resize(number);
    }
    lines.push_back(line);
  }
  return lines;
}

class Trip : public testing::Test {
 protected:
  using Place = std::vector<Line>::const_iterator;

  /// First line from `from` on that begins so; a failure if there is none.
  [[nodiscard]] Place find(const std::string& begin, Place from) const {
    const auto found = std::find_if(
        from, lines.end(), [&](const Line& line) { return line.text.rfind(begin, 0) == 0; });
    if (found == lines.end()) ADD_FAILURE() << "no line: " << begin;
    return found;
  }
  [[nodiscard]] Place find(const std::string& begin) const { return find(begin, lines.begin()); }
  /// Where the cart next comes to rest, mm along the way.
  [[nodiscard]] std::optional<long> stands_after(Place from) const {
    const auto found = find("stands ", from);
    if (found == lines.end()) return std::nullopt;
    return std::strtol(found->text.c_str() + 7, nullptr, 10);
  }
  /// No motor line between the two tells it to move.
  static void expect_rest(Place from, Place to) {
    for (auto line = from; line != to; ++line) {
      if (line->text.rfind("motor ", 0) == 0) {
        EXPECT_EQ(line->text.rfind("motor 0 ", 0), 0U) << line->time << " " << line->text;
      }
    }
  }
  static void expect_at(std::optional<long> place, long from, long to) {
    ASSERT_TRUE(place.has_value());
    EXPECT_GE(*place, from);
    EXPECT_LE(*place, to);
  }

  const std::string output{drive_here()};
  const std::vector<Line> lines{lines_of(output)};
};

// Reader over the tag: within the 25 mm at which it sees it; or beyond it by at most 150 mm
// (protocol/README.md, "Where it stops").
constexpr long before = 25;
constexpr long beyond = 150;

TEST_F(Trip, IsTheSameOnTheMicrocontroller) {
  const Simulated run = simulate(TAGLINE_FIRMWARE "/trip.elf", 2'000'000'000);
  EXPECT_TRUE(run.finished);
  EXPECT_GT(lines.size(), std::size_t{200});
  const std::vector<Line> there = lines_of(run.output);
  for (std::size_t i = 0; i < std::min(lines.size(), there.size()); ++i) {
    ASSERT_EQ(there[i].time, lines[i].time) << "line " << i << ": " << lines[i].text;
    ASSERT_EQ(there[i].text, lines[i].text) << "line " << i;
    ASSERT_EQ(there[i].seq, lines[i].seq) << "line " << i << ": " << lines[i].text;
  }
  EXPECT_EQ(run.output, output);
}

TEST_F(Trip, ReadsEveryTagButTheDirtyOnes) {
  std::vector<std::string> reads;
  for (const Line& line : lines) {
    if (line.text.rfind("cart read ", 0) == 0) reads.push_back(line.text.substr(10));
    EXPECT_NE(line.text, "gave up");
  }
  EXPECT_THAT(reads, testing::ElementsAre("04A10003 2", "04A10005 4", "04A10006 5", "04A10007 6",
                                          "04A10008 7", "04A10001 8", "04A10009 9", "04BAD00D 0",
                                          "04A1000A 12"));
  EXPECT_EQ(find("missed ")->text, "missed 1");
}

TEST_F(Trip, LoadsAndUnloadsStandingAtTheirPoints) {
  for (const auto& [read, act, done, at] :
       {std::tuple{"cart read 04A10005", "load", "cart done 4 load", bench::way[3].at},
        std::tuple{"cart read 04A10007", "unload", "cart done 6 unload", bench::way[5].at}}) {
    const auto reached = find(read);
    expect_at(stands_after(reached), at - before, at + beyond);
    const auto finished = find(done, reached);
    EXPECT_TRUE(std::any_of(reached, finished, [&](const Line& line) {
      return line.text == std::string{"motor 0 forward straight "} + act ||
             line.text == std::string{"motor 0 forward left "} + act;
    })) << act;
  }
}

TEST_F(Trip, IgnoresAnOldAuthority) {
  const auto old = find("service authority 1 3", find("note an old authority"));
  EXPECT_EQ(old->text, "service authority 1 3 ignored");
}

// It turns with the middle of its body over P6: 600 / 2 - 100 = 200 mm beyond the tag.
TEST_F(Trip, TurnsOnTheSpotTowardsItsBranch) {
  const auto turn = find("motor 0 forward left turn");
  EXPECT_GT(turn->time, find("cart read 04A10006")->time);
  expect_at(stands_after(find("cart read 04A10006")), bench::way[4].at + 200 - before,
            bench::way[4].at + 200 + before);
}

TEST_F(Trip, StaysUntilTheRightOneReleasesIt) {
  const auto ordered = find("service stop");
  EXPECT_EQ(find("cart stop ", ordered)->text, "cart stop service");
  const auto released = find("service release", ordered);
  EXPECT_GE(released->time - ordered->time, 2000);
  expect_rest(ordered, released);
  EXPECT_NE(find("motor 4", released), lines.end());

  const auto pressed = find("cart stop button", released);
  const auto not_its = find("service release", pressed);
  const auto freed = find("cart release", pressed);
  EXPECT_LT(not_its->time, freed->time);
  expect_rest(pressed, freed);
  EXPECT_LT(find("motor 4", freed)->time, find("cart done 6")->time);
}

TEST_F(Trip, WithoutALinkStopsByItselfAtTheEndOfItsAuthority) {
  const auto silence = find("note the link is lost");
  const auto link = find("note the link is there again", silence);
  expect_at(stands_after(silence), bench::way[7].at - before, bench::way[7].at + beyond);
  EXPECT_TRUE(std::none_of(silence, link, [](const Line& line) { return line.seq.has_value(); }));
  const auto stands = find("stands ", silence);
  const auto more = find("service authority 8 10", link);
  EXPECT_GE(more->time - stands->time, 2000);
  expect_rest(stands, more);
}

TEST_F(Trip, TellsWhatItKeptWhenTheLinkIsThereAgain) {
  const auto hello = find("cart hello", find("note the link is there again"));
  EXPECT_EQ(hello->text, "cart hello 04A10001 step 8 until 8 loaded 0 stopped 0");
  std::vector<std::string> told;
  for (auto line = hello; line->text.rfind("service authority", 0) != 0; ++line) {
    if (line->seq) told.push_back(line->text);
  }
  EXPECT_THAT(told, testing::ElementsAre("cart read 04A10008 7", "cart read 04A10001 8",
                                         "cart state loaded 0 moving 0 fault none"));
}

TEST_F(Trip, NumbersItsMessagesWithoutGapsFromEachPowerUpOn) {
  long last = 0;
  int power_ups = 1;
  for (const Line& line : lines) {
    if (line.text == "note no power") {
      EXPECT_GT(last, 20);
      last = 0;
      ++power_ups;
    }
    if (!line.seq) continue;
    EXPECT_EQ(*line.seq, last + 1) << line.text;
    last = *line.seq;
  }
  EXPECT_EQ(power_ups, 2);
}

TEST_F(Trip, AfterALossOfPowerGoesOnWhenReleased) {
  const auto hello = find("cart hello 04A10001", find("note no power"));
  EXPECT_EQ(hello->text, "cart hello 04A10001 step 0 until 0 loaded 0 stopped 0");
  const auto again = find("service authority 8 10", hello);
  EXPECT_EQ(again->text, "service authority 8 10 taken");
  expect_rest(hello, again);
  // It doesn't know how far it is from P1, so it drives slowly up to the next tag.
  const auto next = find("cart read 04A10009 9", again);
  for (auto line = again; line != next; ++line) {
    if (line->text.rfind("motor ", 0) != 0) continue;
    EXPECT_LT(std::strtol(line->text.c_str() + 6, nullptr, 10), 250) << line->text;
  }
}

// Braking from 400 mm/s with 600 mm/s2: 133 mm, and a step of 20 ms before it.
TEST_F(Trip, AForeignTagStopsItAtOnce) {
  const auto read = find("cart read 04BAD00D 0");
  EXPECT_EQ(find("cart state", read)->text.substr(11), "loaded 0 moving 1 fault wrong_tag");
  const auto reset = find("service reset", read);
  const auto again = find("service authority 11", reset);
  expect_rest(read, again);
  const auto motor = find("motor ", read);
  EXPECT_EQ(motor->time, read->time);
  EXPECT_EQ(motor->text, "motor 0 forward straight");
  expect_at(stands_after(read), bench::foreign_at - before, bench::foreign_at - before + 150);
  EXPECT_NE(find("cart read 04A1000A 12", again), lines.end());
}

TEST_F(Trip, WaitsBeforeAnObstacleAndStopsWhereATagDoesNotCome) {
  const auto leg = find("note the tag of P3 is gone");
  const auto blocked = find("cart state loaded 0 moving 0 fault blocked", leg);
  const auto free = find("cart state loaded 0 moving 0 fault none", blocked);
  EXPECT_GT(free->time, blocked->time);
  const auto lost = find("cart state loaded 0 moving 1 fault overrun", free);
  const long end = bench::way[9].at + 1691;
  expect_at(stands_after(lost), end - before, end + beyond);
  expect_rest(lost, lines.end());
}

}  // namespace
}  // namespace tagline::firmware
