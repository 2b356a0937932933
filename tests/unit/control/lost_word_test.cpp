// A cart's word that loading or unloading is finished never arrives: somebody repeated a later
// message of its before it could send that one again, so that it no longer counts.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

class LostWordTest : public CoreTest {
 protected:
  void SetUp() override {
    start();
    put_on_floor(one, "H1");
    job = ask("CAST", "DRY");
    while (core->cart(one).mode == CartMode::driving) step_on();
    ASSERT_EQ(core->cart(one).mode, CartMode::handling);
  }
  void step_on() {
    const CartView view = core->cart(one);
    tell(CartReads{one, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
  }
  void lose_link_and_greet(bool loaded) {
    tell(CartLinkLost{one});
    const Step here = core->cart(one).path[0].step;
    tell(CartGreets{.cart = one,
                    .last_tag = tag(at(one)),
                    .step = here,
                    .until = here,
                    .rebooted = false,
                    .loaded = loaded,
                    .battery = 80,
                    .stopped = false});
  }
  void report(bool loaded) {
    tell(CartReports{
        .cart = one, .battery = 80, .loaded = loaded, .moving = false, .fault = Fault::none});
  }
  JobState state() const { return core->job(job)->state; }
  JobId job{};
};

TEST_F(LostWordTest, TheLoadIsOnWhenTheGreetingAndTheNextReportSaySo) {
  lose_link_and_greet(true);
  EXPECT_EQ(state(), JobState::assigned);  // it may still tell
  report(true);
  EXPECT_EQ(state(), JobState::loaded);
  EXPECT_EQ(mode(one), CartMode::driving);
  // Should it tell after all, that changes nothing.
  const Step here = core->cart(one).path[0].step;
  tell(CartHandled{one, here, Handling::load});
  EXPECT_EQ(core->job(job)->stops_done, 1u);
  drive(one);
  EXPECT_EQ(state(), JobState::delivered);
}

TEST_F(LostWordTest, AndSoItIsWithUnloading) {
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  while (core->cart(one).mode == CartMode::driving) step_on();
  ASSERT_EQ(mode(one), CartMode::handling);
  lose_link_and_greet(false);
  EXPECT_EQ(state(), JobState::loaded);
  report(false);
  EXPECT_EQ(state(), JobState::delivered);
  EXPECT_FALSE(core->cart(one).loaded);
}

TEST_F(LostWordTest, TheWordItKeptCountsOnce) {
  lose_link_and_greet(true);
  tell(CartHandled{one, core->cart(one).path[0].step, Handling::load});
  EXPECT_EQ(state(), JobState::loaded);
  report(true);
  EXPECT_EQ(core->job(job)->stops_done, 1u);
}

TEST_F(LostWordTest, ALoadThatComesAndGoesIsNotTakenForTheWord) {
  lose_link_and_greet(true);
  report(false);
  EXPECT_EQ(state(), JobState::assigned);
  report(true);  // only the first report after the greeting comes after what it kept
  EXPECT_EQ(state(), JobState::assigned);
  EXPECT_EQ(mode(one), CartMode::handling);
}

TEST_F(LostWordTest, AReportWithoutALostLinkIsNoWord) {
  report(true);
  EXPECT_EQ(state(), JobState::assigned);
}

}  // namespace
}  // namespace tagline::control
