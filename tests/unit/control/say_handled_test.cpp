// "The load is on": what a person says at a station is passed on to the cart that stands there for
// the job; only the cart's own word makes the job go on.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

class SayHandledTest : public CoreTest {
 protected:
  void SetUp() override {
    start();
    put_on_floor(one, "H1");
    job = ask("CAST", "DRY");
  }
  void drive_to_handling() {
    while (mode(one) == CartMode::driving) {
      const CartView view = core->cart(one);
      tell(CartReads{one, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
    }
    ASSERT_EQ(mode(one), CartMode::handling);
  }
  void say(Handling what) { tell(AskSayHandled{1, job, what}); }
  std::string refused_to(Handling what) {
    say(what);
    EXPECT_THAT(messages<TellHandled>(one), IsEmpty());
    return refusal();
  }
  Step here() const { return core->cart(one).path[0].step; }
  JobState state() const { return core->job(job)->state; }
  JobId job{};
};

TEST_F(SayHandledTest, ItIsPassedOnAndTheCartDecides) {
  drive_to_handling();
  say(Handling::load);
  ASSERT_TRUE(accepted()) << refusal();
  ASSERT_THAT(messages<TellHandled>(one), SizeIs(1));
  EXPECT_EQ(messages<TellHandled>(one)[0].step, here());
  EXPECT_EQ(messages<TellHandled>(one)[0].what, Handling::load);
  EXPECT_EQ(state(), JobState::assigned);
  EXPECT_EQ(mode(one), CartMode::handling);
  EXPECT_FALSE(core->cart(one).loaded);
  // It may be lost on its way: then it is said again.
  say(Handling::load);
  EXPECT_THAT(messages<TellHandled>(one), SizeIs(1));
  tell(CartHandled{one, here(), Handling::load});
  EXPECT_EQ(state(), JobState::loaded);
  drive_to_handling();
  say(Handling::unload);
  EXPECT_EQ(messages<TellHandled>(one)[0].what, Handling::unload);
  tell(CartHandled{one, here(), Handling::unload});
  EXPECT_EQ(state(), JobState::delivered);
  EXPECT_THAT(refused_to(Handling::unload), HasSubstr("is delivered already"));
}

TEST_F(SayHandledTest, OnlyWhereItsCartStandsForThat) {
  ASSERT_EQ(mode(one), CartMode::driving);
  EXPECT_THAT(refused_to(Handling::load),
              HasSubstr("cart-1 does not stand at " + floor[*floor.find_station("CAST")].name));
  drive_to_handling();
  EXPECT_THAT(refused_to(Handling::unload), HasSubstr("is to be loaded"));
  tell(CartHandled{one, here(), Handling::load});
  EXPECT_THAT(refused_to(Handling::load), HasSubstr("does not stand at"));
}

TEST_F(SayHandledTest, NotToACartThatIsStopped) {
  drive_to_handling();
  tell(AskStopAll{1});
  EXPECT_THAT(refused_to(Handling::load), HasSubstr("is stopped"));
  tell(AskReleaseAll{1});
  tell(CartStopped{one, StopCause::button});
  EXPECT_THAT(refused_to(Handling::load), HasSubstr("is stopped"));
}

TEST_F(SayHandledTest, NotBeforeItStands) {
  drive_to_handling();
  const auto report = [&](bool moving) {
    tell(CartReports{
        .cart = one, .battery = 80, .loaded = false, .moving = moving, .fault = Fault::none});
  };
  report(true);
  EXPECT_THAT(refused_to(Handling::load), HasSubstr("still coming to a halt"));
  report(false);
  say(Handling::load);
  EXPECT_TRUE(accepted()) << refusal();
}

TEST_F(SayHandledTest, NotWithoutALink) {
  drive_to_handling();
  tell(CartLinkLost{one});
  EXPECT_THAT(refused_to(Handling::load), HasSubstr("not connected"));
}

TEST_F(SayHandledTest, NotForAJobWithoutACartOrThatIsNotKnown) {
  const JobId waiting = ask("CAST", "DRY");
  tell(AskSayHandled{1, waiting, Handling::load});
  EXPECT_THAT(refusal(), HasSubstr("has no cart yet"));
  tell(AskSayHandled{1, JobId{99}, Handling::load});
  EXPECT_THAT(refusal(), HasSubstr("There is no job 99"));
}

}  // namespace
}  // namespace tagline::control
