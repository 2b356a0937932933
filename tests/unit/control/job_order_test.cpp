// Who asked first is served first, where nothing else speaks for one job or the other.
#include "tests/unit/control/core_fixture.hpp"

namespace tagline::control {
namespace {

class JobOrderTest : public CoreTest {
 protected:
  void SetUp() override {
    start();
    put_on_floor(one, "H1");
  }
};

TEST_F(JobOrderTest, ALaterJobThatIsAlikeTakesNoCartAway) {
  const JobId first = ask("CAST", "DRY");
  ASSERT_EQ(core->job(first)->cart, one);
  for (int i = 0; i < 3; ++i) {
    const JobId later = ask("CAST", "DRY");
    EXPECT_EQ(core->job(first)->cart, one);
    EXPECT_FALSE(core->job(later)->cart);
  }
}

TEST_F(JobOrderTest, AMoreUrgentOneDoes) {
  const JobId first = ask("CAST", "DRY");
  AskJob urgent{.request = 1, .from = "CAST", .to = "DRY"};
  urgent.priority = 9;
  tell(urgent);
  const JobId later = std::get<JobTaken>(last.answers.at(0).what).job;
  EXPECT_EQ(core->job(later)->cart, one);
  EXPECT_FALSE(core->job(first)->cart);
}

}  // namespace
}  // namespace tagline::control
