// A cart that stands at a station, being loaded or unloaded, for far longer than usual: whoever
// was to see to it has forgotten it, or its word that it is finished is lost. Others wait behind
// it.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using std::chrono::minutes;
using std::chrono::seconds;

class HandlingOverdueTest : public CoreTest {
 protected:
  void SetUp() override {
    start();
    put_on_floor(one, "H1");
    job = ask("CAST", "DRY");
    drive_to_handling();
  }
  void drive_to_handling() {
    while (core->cart(one).mode == CartMode::driving) {
      const CartView view = core->cart(one);
      tell(CartReads{one, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
    }
    ASSERT_EQ(mode(one), CartMode::handling);
  }
  const floor::Station& station(const std::string& id) const {
    return floor[*floor.find_station(id)];
  }
  /// Lets time go by, a tick a second, until this long after the cart came to where it stands.
  void wait_until_stood(Duration so_long) {
    const Instant end = core->cart(one).passed_at + so_long;
    while (now < end) tell(Tick{});
  }
  std::optional<Alarm> overdue() const {
    for (const Alarm& alarm : core->alarms()) {
      if (alarm.kind == AlarmKind::handling_overdue) return alarm;
    }
    return {};
  }
  void done(Handling what) { tell(CartHandled{one, core->cart(one).path[0].step, what}); }

  JobId job{};
  const Duration patience = Policy{}.handling_overdue;
};

TEST_F(HandlingOverdueTest, SaidOnceTheUsualTimeAndThePatienceAreOver) {
  const Duration limit = station("CAST").load + patience;
  wait_until_stood(limit - seconds{1});
  EXPECT_FALSE(overdue());
  wait_until_stood(limit);
  ASSERT_TRUE(overdue());
  EXPECT_EQ(overdue()->cart, one);
  EXPECT_EQ(overdue()->job, job);
  EXPECT_EQ(overdue()->since, now);
  EXPECT_NE(overdue()->text.find(station("CAST").name + " to be loaded"), std::string::npos)
      << overdue()->text;
  // It is one alarm, however long it lasts.
  const std::uint64_t id = overdue()->id;
  wait_until_stood(limit + minutes{30});
  EXPECT_EQ(overdue()->id, id);
}

TEST_F(HandlingOverdueTest, EndsWhenTheLoadIsOn) {
  wait_until_stood(station("CAST").load + patience);
  ASSERT_TRUE(overdue());
  done(Handling::load);
  EXPECT_FALSE(overdue());
}

TEST_F(HandlingOverdueTest, UnloadingIsAnotherAlarm) {
  wait_until_stood(station("CAST").load + patience);
  const std::uint64_t loading = overdue()->id;
  done(Handling::load);
  drive_to_handling();
  EXPECT_FALSE(overdue()) << "the time at the station before does not count";
  wait_until_stood(station("DRY").unload + patience);
  ASSERT_TRUE(overdue());
  EXPECT_NE(overdue()->id, loading);
  EXPECT_NE(overdue()->text.find(station("DRY").name + " to be unloaded"), std::string::npos);
}

TEST_F(HandlingOverdueTest, ACartThatIsTakenAwayHasNone) {
  wait_until_stood(station("CAST").load + patience);
  tell(AskRemoveCart{1, one});
  ASSERT_TRUE(accepted()) << refusal();
  EXPECT_FALSE(overdue());
}

TEST_F(HandlingOverdueTest, AStoppedCartSaysThatInstead) {
  wait_until_stood(station("CAST").load + patience);
  tell(AskStopAll{1});
  EXPECT_FALSE(overdue());
}

TEST_F(HandlingOverdueTest, OneThatOnlyWaitsOrRestsHasNone) {
  done(Handling::load);
  drive(one);
  ASSERT_EQ(core->job(job)->state, JobState::delivered);
  wait_until_stood(minutes{40});
  EXPECT_FALSE(overdue());
}

}  // namespace
}  // namespace tagline::control
