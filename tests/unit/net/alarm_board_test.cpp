// Who has seen which alarm: for as long as it lasts, and over a restart.
#include "server/net/alarm_board.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "tests/support/floor_builder.hpp"

namespace tagline::net::test {
namespace {

using nlohmann::json;
using testing::ElementsAre;
using testing::IsEmpty;

Instant moment(std::int64_t ms) { return Instant{Duration{ms}}; }

control::Alarm alarm_of(std::uint64_t id, control::AlarmKind kind, const std::string& detail = {}) {
  return {id, kind, CartIx{1}, {}, {}, "Text.", moment(1'000), detail};
}

class AlarmBoardTest : public testing::Test {
 protected:
  /// A board as after a start of the service.
  AlarmBoard start(std::vector<access::SeenAlarm> before = {}) {
    return {view_, std::move(before)};
  }
  /// Who has seen each alarm, "" for nobody.
  static std::vector<std::string> seen_by(const AlarmBoard& board) {
    std::vector<std::string> names;
    const json alarms = json::parse(board.text());
    for (const json& one : alarms)
      names.push_back(one.at("seen").is_null() ? "" : one.at("seen").at("by").get<std::string>());
    return names;
  }
  static std::vector<std::string> dropped(AlarmBoard& board) {
    std::vector<std::string> causes;
    for (const access::Change& change : board.take_changes())
      causes.push_back(std::get<access::DropSeenAlarm>(change).cause);
    return causes;
  }

  const floor::Floor floor_ = tagline::test::FloorBuilder{}
                                  .point("A", 0, 0)
                                  .point("B", 4'000, 0)
                                  .segment("S1", "A", "B")
                                  .build();
  const floor::Ways ways_{floor_};
  const floor::Track track_{ways_};
  const std::vector<std::string> carts_{"cart-1", "cart-2"};
  const JsonView view_{track_, carts_};
  const control::Alarm lost_ = alarm_of(7, control::AlarmKind::link_lost);
  const control::Alarm drive_ = alarm_of(8, control::AlarmKind::fault, "drive");
};

TEST_F(AlarmBoardTest, AnAlarmSaysWhoHasSeenItAndWhen) {
  AlarmBoard board = start();
  EXPECT_TRUE(board.apply({lost_, drive_}));
  EXPECT_THAT(seen_by(board), ElementsAre("", ""));
  EXPECT_EQ(board.cause_of(8, moment(1'000)), "fault cart-2 drive");
  EXPECT_TRUE(board.mark(8, {"fault cart-2 drive", "Otto", moment(5'000)}));
  EXPECT_THAT(seen_by(board), ElementsAre("", "Otto"));
  EXPECT_EQ(json::parse(board.alarm_text(8)).at("seen").at("at"), "1970-01-01T00:00:05.000Z");
  EXPECT_FALSE(board.apply({lost_, drive_})) << "nothing has changed";
  EXPECT_THAT(dropped(board), IsEmpty());
}

TEST_F(AlarmBoardTest, WhoWasFirstStays) {
  AlarmBoard board = start();
  board.apply({lost_});
  EXPECT_TRUE(board.mark(7, {"link_lost cart-2", "Otto", moment(5'000)}));
  EXPECT_TRUE(board.mark(7, {"link_lost cart-2", "Sam", moment(6'000)}));
  EXPECT_THAT(seen_by(board), ElementsAre("Otto"));
}

TEST_F(AlarmBoardTest, OneThatEndedAndComesAgainIsUnseen) {
  AlarmBoard board = start();
  board.apply({lost_, drive_});
  board.mark(7, {"link_lost cart-2", "Otto", moment(5'000)});
  EXPECT_TRUE(board.apply({drive_}));
  EXPECT_THAT(dropped(board), ElementsAre("link_lost cart-2"));
  control::Alarm again = lost_;
  again.id = 9;
  board.apply({drive_, again});
  EXPECT_THAT(seen_by(board), ElementsAre("", ""));
}

TEST_F(AlarmBoardTest, WhatEndsBeforeItIsOnDiskIsForgottenThere) {
  AlarmBoard board = start();
  board.apply({lost_});
  board.apply({});
  EXPECT_FALSE(board.mark(7, {"link_lost cart-2", "Otto", moment(5'000)}));
  EXPECT_THAT(dropped(board), ElementsAre("link_lost cart-2"));
}

TEST_F(AlarmBoardTest, NumbersOfAnEarlierRunMeanNothing) {
  AlarmBoard board = start();
  board.apply({lost_});
  EXPECT_EQ(board.cause_of(7, moment(999)), std::nullopt);
  EXPECT_EQ(board.cause_of(6, moment(1'000)), std::nullopt);
}

TEST_F(AlarmBoardTest, AMarkOutlastsARestartIfItsAlarmDoes) {
  AlarmBoard board = start({{"link_lost cart-2", "Otto", moment(5'000)},
                            {"fault cart-2 drive", "Sam", moment(6'000)},
                            {"all_stopped", "Sam", moment(7'000)}});
  board.apply({lost_});
  // The fault is known once the cart has greeted; another fault is another alarm.
  board.apply({lost_, alarm_of(8, control::AlarmKind::fault, "reader")});
  EXPECT_THAT(seen_by(board), ElementsAre("Otto", ""));
  board.apply({lost_, alarm_of(9, control::AlarmKind::fault, "drive")});
  EXPECT_THAT(seen_by(board), ElementsAre("Otto", "Sam"));
  board.forget_unclaimed();
  EXPECT_THAT(dropped(board), ElementsAre("all_stopped"));
  control::Alarm stopped = alarm_of(10, control::AlarmKind::all_stopped);
  stopped.cart.reset();
  board.apply({stopped});
  EXPECT_EQ(board.cause_of(10, moment(1'000)), "all_stopped");
  EXPECT_THAT(seen_by(board), ElementsAre(""));
}

}  // namespace
}  // namespace tagline::net::test
