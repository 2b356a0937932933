// When the cart comes for the load, not when it has it on.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

using std::chrono::minutes;

class ExpectedPickupTest : public CoreTest {
 protected:
  ExpectedPickupTest() : CoreTest(slow_to_load()) {}
  static floor::Floor slow_to_load() {
    floor::Floor small = test::loop_with_bay();
    for (floor::Station& station : small.stations) station.load = minutes{20};
    return small;
  }
};

TEST_F(ExpectedPickupTest, LoadingThereIsNotCounted) {
  start();
  put_on_floor(one, "H1");
  const JobId job = ask("CAST", "DRY");
  int told = 0;
  while (mode(one) == CartMode::driving) {
    const auto expected = core->expected(job);
    ASSERT_TRUE(expected && expected->pickup);
    EXPECT_GE(*expected->pickup, now);
    EXPECT_LT(*expected->pickup - now, minutes{2});
    EXPECT_GT(expected->delivery - now, minutes{20});
    ++told;
    const CartView view = core->cart(one);
    tell(CartReads{one, floor[track.ways()[view.path[1].pose].at].tags[0], view.path[1].step});
  }
  EXPECT_GT(told, 1) << "before and when its authority reaches the station";
  EXPECT_FALSE(core->expected(job)->pickup) << "it is there";
}

}  // namespace
}  // namespace tagline::control
