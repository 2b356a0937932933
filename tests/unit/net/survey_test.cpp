// When a survey may begin, what ends it, and what it notes of the reads.
#include "server/net/survey.hpp"

#include <gtest/gtest.h>

namespace tagline::net::test {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;

constexpr CartIx driven{0}, another{1};

class SurveyTest : public ::testing::Test {
 protected:
  static Views views(CartIx cart, control::CartMode mode, bool connected) {
    control::CartView view;
    view.cart = cart;
    view.mode = mode;
    view.connected = connected;
    Views result;
    result.carts.push_back({view, {}});
    return result;
  }
  void off_floor(CartIx cart) { survey.see(views(cart, control::CartMode::off_floor, true)); }
  void on_floor(CartIx cart, bool connected = true) {
    survey.see(views(cart, control::CartMode::idle, connected));
  }
  void all_stopped(bool stopped) {
    Views result;
    result.all_stopped = stopped;
    survey.see(result);
  }
  std::string refused(CartIx cart = driven) {
    const auto refusal = survey.begin(cart, "Berta");
    return refusal ? refusal->name + ": " + refusal->text : "";
  }
  /// Both carts off the floor, and a survey with the first one.
  void begin() {
    off_floor(driven);
    off_floor(another);
    ASSERT_EQ(refused(), "");
  }
  void read(const std::string& tag, Duration after) {
    now += after;
    survey.has_read(driven, tag);
  }
  [[nodiscard]] const std::vector<SurveyRead>& reads() const { return survey.state()->reads; }
  [[nodiscard]] const std::string& ended() const { return survey.state()->ended; }

  std::vector<std::string> names{"cart-1", "cart-2"};
  Instant now{seconds{1'000}};
  Survey survey{names, [this] { return now; }, seconds{3}};
};

bool starts(const std::string& text, const std::string& with) { return text.starts_with(with); }

TEST_F(SurveyTest, NothingIsKnownAtFirstSoNothingMayBegin) {
  EXPECT_TRUE(starts(refused(), "not_connected: cart-1"));
  off_floor(driven);
  EXPECT_TRUE(starts(refused(), "carts_may_drive: cart-2")) << "it may be anywhere";
  EXPECT_FALSE(survey.state());
}

TEST_F(SurveyTest, TheCartMustBeConnectedAndOffTheFloor) {
  off_floor(another);
  survey.see(views(driven, control::CartMode::off_floor, false));
  EXPECT_TRUE(starts(refused(), "not_connected: cart-1"));
  all_stopped(true);
  for (const auto mode : {control::CartMode::idle, control::CartMode::in_doubt,
                          control::CartMode::needs_release, control::CartMode::driving}) {
    survey.see(views(driven, mode, true));
    EXPECT_TRUE(starts(refused(), "on_floor: cart-1"));
  }
  off_floor(driven);
  EXPECT_EQ(refused(), "");
}

TEST_F(SurveyTest, NoOtherCartMayBeAbleToDrive) {
  off_floor(driven);
  on_floor(another);
  EXPECT_TRUE(starts(refused(), "carts_may_drive: cart-2"));
  all_stopped(true);
  on_floor(another, false);
  EXPECT_TRUE(starts(refused(), "carts_may_drive: cart-2 is on the floor without a link"))
      << "a stop does not reach it";
  on_floor(another);
  EXPECT_EQ(refused(), "");
  EXPECT_TRUE(starts(refused(), "survey_runs: Berta"));
}

TEST_F(SurveyTest, AReleaseEndsItWhileOthersAreOnTheFloor) {
  off_floor(driven);
  on_floor(another);
  all_stopped(true);
  ASSERT_EQ(refused(), "");
  on_floor(another, false);
  EXPECT_EQ(ended(), "") << "it was stopped before its link went";
  all_stopped(false);
  EXPECT_TRUE(starts(ended(), "cart-2 is on the floor")) << ended();
  read("04A1", seconds{1});
  EXPECT_TRUE(reads().empty()) << "nothing is listened to any more";
  EXPECT_FALSE(survey.end("Sam"));
}

TEST_F(SurveyTest, ACartSetDownEndsIt) {
  begin();
  all_stopped(true);
  on_floor(another);
  EXPECT_EQ(ended(), "") << "stopped, it stays where it is";
  off_floor(another);
  all_stopped(false);
  EXPECT_EQ(ended(), "") << "nobody else is there";
  on_floor(another);
  EXPECT_TRUE(starts(ended(), "cart-2 is on the floor"));
  off_floor(another);
  ASSERT_EQ(refused(), "") << "and another one may begin";
  all_stopped(true);
  on_floor(driven);
  EXPECT_TRUE(starts(ended(), "cart-1 was set down"));
}

TEST_F(SurveyTest, NotesWhatItsCartReadsInOrderWithTimes) {
  read("04A0", seconds{1});
  begin();
  read("04A1", seconds{2});
  survey.has_read(another, "04FF");
  read("04A2", milliseconds{5'200});
  read("04A2", seconds{1});
  ASSERT_EQ(reads().size(), 3u);
  EXPECT_EQ(reads()[0].tag, "04A1");
  EXPECT_EQ(reads()[1].at, milliseconds{7'200});
  EXPECT_EQ(reads()[2].number, 3u);
  for (const SurveyRead& one_read : reads()) EXPECT_FALSE(one_read.late);
  ASSERT_TRUE(survey.end("Sam"));
  EXPECT_EQ(ended(), "Sam has ended it.");
  EXPECT_EQ(reads().size(), 3u) << "they are still there to be accepted";
  ASSERT_EQ(refused(another), "");
  EXPECT_TRUE(reads().empty());
  read("04A3", seconds{1});
  EXPECT_TRUE(reads().empty()) << "another cart is listened to now";
}

TEST_F(SurveyTest, WhatComesRightAfterAWelcomeIsLate) {
  survey.welcomed(driven);
  begin();
  read("04A1", milliseconds{2'900});
  read("04A2", milliseconds{200});
  survey.welcomed(another);
  read("04A3", milliseconds{100});
  survey.welcomed(driven);
  read("04A4", seconds{1});
  read("04A5", seconds{4});
  std::vector<bool> late;
  for (const SurveyRead& one_read : reads()) late.push_back(one_read.late);
  EXPECT_EQ(late, (std::vector<bool>{true, false, false, true, false}));
}

TEST_F(SurveyTest, KnowsHowLongItStoodIfTheCartTells) {
  begin();
  survey.says_moving(driven, false);
  read("04A1", seconds{5});
  EXPECT_EQ(reads()[0].stood, Duration{0}) << "it never said that it moves";
  EXPECT_FALSE(survey.state()->tells_moving);
  survey.says_moving(another, true);
  EXPECT_FALSE(survey.state()->tells_moving);
  survey.says_moving(driven, true);
  EXPECT_TRUE(survey.state()->tells_moving);
  now += seconds{2};
  survey.says_moving(driven, false);
  now += seconds{7};
  survey.says_moving(driven, false);  // every 5 s
  survey.says_moving(driven, true);
  read("04A2", seconds{3});
  EXPECT_EQ(reads()[1].stood, Duration{seconds{7}});
  read("04A3", seconds{3});
  EXPECT_EQ(reads()[2].stood, Duration{0});
  // Stands over a tag and reads it there: what comes after counts for the next one.
  survey.says_moving(driven, false);
  read("04A4", seconds{4});
  now += seconds{2};
  survey.says_moving(driven, true);
  read("04A5", seconds{1});
  EXPECT_EQ(reads()[3].stood, Duration{0});
  EXPECT_EQ(reads()[4].stood, Duration{seconds{2}});
}

TEST_F(SurveyTest, ASickReaderFillsNoMemory) {
  begin();
  for (std::size_t k = 0; k < Survey::most_reads + 10; ++k) read("04A1", milliseconds{1});
  EXPECT_EQ(reads().size(), Survey::most_reads);
}

}  // namespace
}  // namespace tagline::net::test
