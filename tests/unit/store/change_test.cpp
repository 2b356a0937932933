// A start with another floor or another fleet than the last one.
#include <gmock/gmock.h>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using control::JobState;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

control::Job job_in(std::uint64_t id, JobState state, StationIx from, StationIx to,
                    std::optional<CartIx> cart = std::nullopt) {
  control::Job job = queued_job(id);
  job.state = state;
  job.from = from;
  job.to = to;
  job.cart = cart;
  return job;
}

constexpr StationIx cast{0}, kiln{1}, glaze{2};

class Change : public testing::Test {
 protected:
  /// Jobs in each open state, cart-2 on its way, cart-3 perhaps at B.
  void SetUp() override {
    Store store(folder.data(), before.ways, three_carts);
    (void)store.load(at(0));
    write(
        store, 100,
        batch({control::JobRecord{job_in(1, JobState::queued, cast, glaze)},
               control::JobRecord{job_in(2, JobState::assigned, glaze, kiln, CartIx{1})},
               control::JobRecord{job_in(3, JobState::loaded, glaze, kiln, CartIx{2})},
               control::JobRecord{job_in(4, JobState::queued, cast, kiln)},
               control::JobRecord{job_in(5, JobState::delivered, glaze, cast, CartIx{1})},
               control::PathRecord{CartIx{1}, 6, control::JobId{2}, path_to(before.ways, "K", 41)},
               control::CartRecord{CartIx{1}, false, true, "", {}},
               control::CartRecord{CartIx{2}, false, true, "lost", {PointIx{1}}}}));
  }
  Found load(const Works& works, const std::vector<std::string>& carts = three_carts,
             std::int64_t ms = 500) {
    return Store(folder.data(), works.ways, carts).load(at(ms));
  }
  void record_of_cart_1(const control::CartRecord& record) {
    Store store(folder.data(), before.ways, three_carts);
    (void)store.load(at(200));
    write(store, 300, batch({record}));
  }
  std::vector<std::string> jobs_kept() {
    return query(folder.database(), "SELECT id, state, cart, reason FROM jobs ORDER BY id");
  }

  Works before;
  TempFolder folder;
};

TEST_F(Change, TheSameFloorChangesNothing) {
  const Found found = load(before);
  EXPECT_FALSE(found.floor_changed);
  EXPECT_THAT(found.notes, IsEmpty());
  EXPECT_THAT(found.restored.jobs, SizeIs(5));
  EXPECT_THAT(found.restored.paths, SizeIs(1));
  EXPECT_FALSE(found.restored.fleet.all_stopped);
}

TEST_F(Change, AnotherFloorStopsAllAndPlacesNobody) {
  floor::Floor altered = small_works();
  altered.segments[2].length = Mm{4500};
  const Works after(altered);
  const Found found = load(after);
  EXPECT_TRUE(found.floor_changed);
  EXPECT_TRUE(found.restored.fleet.all_stopped);
  EXPECT_THAT(found.restored.paths, IsEmpty());
  ASSERT_THAT(found.restored.carts, SizeIs(2));
  for (const auto& cart : found.restored.carts) {
    EXPECT_EQ(cart.doubt, "The floor was changed while it was on it; say where it stands.");
    EXPECT_TRUE(cart.needs_release);
    EXPECT_TRUE(cart.loaded);
    EXPECT_THAT(cart.maybe_at, IsEmpty());
  }
  EXPECT_THAT(found.restored.jobs, SizeIs(5)) << "every station is still there";
  EXPECT_THAT(found.notes, ElementsAre(HasSubstr("segment S3 C D 4500")));

  // A crash before anybody acted loses nothing of it; from now on this is the floor last used.
  const Found next = load(after);
  EXPECT_FALSE(next.floor_changed);
  EXPECT_TRUE(next.restored.fleet.all_stopped);
  EXPECT_THAT(next.restored.paths, IsEmpty());
  EXPECT_THAT(next.restored.carts, SizeIs(2));
}

TEST_F(Change, AnotherFloorStopsAllEvenWithNoCartOnIt) {
  const TempFolder empty;
  (void)Store(empty.data(), before.ways, three_carts).load(at(0));
  floor::Floor altered = small_works();
  altered.cart.length = Mm{800};
  const Works after(altered);
  const Found found = Store(empty.data(), after.ways, three_carts).load(at(1));
  EXPECT_TRUE(found.floor_changed);
  EXPECT_TRUE(found.restored.fleet.all_stopped);
}

TEST_F(Change, JobsOfAStationThatIsGoneEndWithTheReason) {
  floor::Floor altered = small_works();
  altered.stations.pop_back();  // GLAZE
  const Found found = load(Works(altered));
  EXPECT_TRUE(found.floor_changed);
  ASSERT_THAT(found.restored.jobs, SizeIs(1));
  EXPECT_EQ(found.restored.jobs[0].id.value, 4U);
  EXPECT_EQ(found.restored.last_job, 5U);
  const std::string why = "The floor was changed: station GLAZE is no longer on it.";
  EXPECT_THAT(jobs_kept(),
              ElementsAre("1|cancelled||" + why, "2|cancelled|cart-2|" + why,
                          "3|stranded|cart-3|" + why, "4|queued||", "5|delivered|cart-2|"));
  EXPECT_THAT(query(folder.database(), "SELECT id FROM jobs WHERE ended_at = 1800000000500"),
              ElementsAre("1", "2", "3"));
  EXPECT_THAT(query(folder.database(),
                    "SELECT job, state FROM job_events WHERE at = 1800000000500 ORDER BY seq"),
              ElementsAre("1|cancelled", "2|cancelled", "3|stranded"));
  EXPECT_THAT(found.notes, SizeIs(4));
}

TEST_F(Change, AJobWithAStopAtAStationThatIsGoneEndsToo) {
  {
    Store store(folder.data(), before.ways, three_carts);
    control::Job job = job_in(6, JobState::loaded, cast, kiln, CartIx{0});
    job.via = {{glaze, control::Handling::unload}};
    job.stops_done = 1;
    write(store, 200, batch({control::JobRecord{job}}));
  }
  floor::Floor altered = small_works();
  altered.stations.pop_back();  // GLAZE
  const Works after(altered);
  Store store(folder.data(), after.ways, three_carts);
  const Found found = store.load(at(500));
  ASSERT_THAT(found.restored.jobs, SizeIs(1));
  EXPECT_EQ(found.restored.jobs[0].id.value, 4U);
  EXPECT_FALSE(store.job({6}).has_value());
  EXPECT_THAT(jobs_kept(), Contains("6|stranded|cart-1|The floor was changed: station GLAZE is no "
                                    "longer on it."));
}

TEST_F(Change, LoadsAtAStationThatIsGoneOrCountsNoMoreAreForgottenAndTold) {
  {
    Store store(folder.data(), before.ways, three_carts);
    write(store, 200, batch({control::StationRecord{glaze, 2}}));
  }
  EXPECT_THAT(loads_in(load(before), before.floor), ElementsAre("GLAZE:2"));

  floor::Floor smaller = small_works();
  smaller.stations[2].capacity = 1;
  const Works small(smaller);
  Found found = load(small);
  EXPECT_FALSE(found.floor_changed);
  EXPECT_THAT(loads_in(found, small.floor), ElementsAre("GLAZE:2"))
      << "they stand there all the same";

  floor::Floor uncounted = small_works();
  uncounted.stations[2].capacity.reset();
  found = load(Works(uncounted));
  EXPECT_FALSE(found.floor_changed);
  EXPECT_THAT(found.restored.stations, IsEmpty());
  EXPECT_THAT(found.notes, ElementsAre("Station GLAZE has no capacity any more: it is forgotten "
                                       "that 2 loads stood there."));
  EXPECT_THAT(load(before).restored.stations, IsEmpty()) << "an old count is no count";

  {
    Store store(folder.data(), before.ways, three_carts);
    write(store, 900, batch({control::StationRecord{glaze, 1}}));
  }
  floor::Floor gone = small_works();
  gone.stations.pop_back();
  found = load(Works(gone));
  EXPECT_THAT(found.restored.stations, IsEmpty());
  EXPECT_THAT(found.notes, Contains("Station GLAZE is no longer on the floor: it is forgotten that "
                                    "1 load stood there."));
}

TEST_F(Change, StationsThatMovedInTheFileKeepTheirJobs) {
  floor::Floor altered = small_works();
  std::swap(altered.stations[0], altered.stations[2]);
  const Works after(altered);
  const Found found = load(after);
  EXPECT_FALSE(found.floor_changed);
  ASSERT_THAT(found.restored.jobs, SizeIs(5));
  EXPECT_EQ(after.floor[found.restored.jobs[0].from].id, "CAST");
  EXPECT_EQ(after.floor[found.restored.jobs[0].to].id, "GLAZE");
}

TEST_F(Change, SegmentsInAnotherOrderKeepThePath) {
  floor::Floor altered = small_works();
  std::swap(altered.segments[0], altered.segments[5]);
  const Works after(altered);
  const Found found = load(after);
  EXPECT_FALSE(found.floor_changed);
  ASSERT_THAT(found.restored.paths, SizeIs(1));
  EXPECT_EQ(fields(found.restored.paths[0].path), fields(path_to(after.ways, "K", 41)));
}

TEST_F(Change, AWornTagReplacedIsNoChangeButOneThatMarksAnotherPointIs) {
  floor::Floor replaced = small_works();
  replaced.points[0].tags = {"04FFFFFF"};
  EXPECT_FALSE(load(Works(replaced)).floor_changed);
  floor::Floor moved = replaced;
  std::swap(moved.points[0].tags, moved.points[1].tags);
  const Found found = load(Works(moved));
  EXPECT_TRUE(found.floor_changed);
  EXPECT_THAT(found.notes, ElementsAre(HasSubstr("marked point")));
}

TEST_F(Change, ACartTakenOutOfTheFleetStopsAllAndGivesItsJobBack) {
  const Found found = load(before, {"cart-1", "cart-3"});
  EXPECT_FALSE(found.floor_changed);
  EXPECT_TRUE(found.restored.fleet.all_stopped);
  EXPECT_THAT(found.restored.paths, IsEmpty());
  ASSERT_THAT(found.restored.carts, SizeIs(1));
  EXPECT_EQ(found.restored.carts[0].cart, CartIx{1}) << "cart-3 by name, not by number";
  EXPECT_EQ(found.restored.carts[0].doubt, "lost");
  ASSERT_THAT(found.restored.jobs, SizeIs(5));
  EXPECT_EQ(found.restored.jobs[1].state, JobState::queued);
  EXPECT_EQ(found.restored.jobs[1].cart, std::nullopt);
  EXPECT_EQ(found.restored.jobs[2].state, JobState::loaded);
  EXPECT_EQ(found.restored.jobs[2].cart, CartIx{1});
  EXPECT_THAT(found.notes, ElementsAre(HasSubstr("cart-2"), HasSubstr("Job 2")));

  // It comes back later: nobody knows where it stands.
  const Found back = load(before);
  EXPECT_THAT(back.restored.paths, IsEmpty());
  ASSERT_THAT(back.restored.carts, SizeIs(2));
  EXPECT_THAT(back.restored.carts[0].doubt, HasSubstr("taken out of the fleet"));
}

TEST_F(Change, ALoadOnACartTakenOutOfTheFleetIsStranded) {
  const Found found = load(before, {"cart-1", "cart-2"});
  EXPECT_TRUE(found.restored.fleet.all_stopped) << "it may have stood at B";
  ASSERT_THAT(found.restored.jobs, SizeIs(5));
  EXPECT_EQ(found.restored.jobs[2].state, JobState::stranded);
  EXPECT_EQ(found.restored.jobs[2].ended_at, at(500));
  EXPECT_THAT(found.restored.jobs[2].reason, HasSubstr("cart-3"));
}

TEST_F(Change, ACartAddedOrTakenAwayNeverShiftsAnothersRecords) {
  // cart-1 goes (it was off the floor) and others come before and behind: numbers shift, all that
  // was recorded stays with the cart it was recorded of.
  const std::vector<std::string> fleet{"cart-0", "cart-3", "cart-2", "cart-4"};
  const Found found = load(before, fleet);
  EXPECT_THAT(found.notes, IsEmpty());
  EXPECT_FALSE(found.restored.fleet.all_stopped);
  ASSERT_THAT(found.restored.paths, SizeIs(1));
  EXPECT_EQ(found.restored.paths[0].cart, CartIx{2}) << "cart-2's way";
  EXPECT_EQ(found.restored.paths[0].trip, 6u);
  EXPECT_EQ(found.restored.paths[0].job, control::JobId{2});
  EXPECT_EQ(fields(found.restored.paths[0].path), fields(path_to(before.ways, "K", 41)));
  ASSERT_THAT(found.restored.carts, SizeIs(2));
  EXPECT_EQ(found.restored.carts[0].cart, CartIx{1});
  EXPECT_EQ(found.restored.carts[0].doubt, "lost") << "cart-3's doubt";
  EXPECT_EQ(found.restored.carts[1].cart, CartIx{2});
  EXPECT_TRUE(found.restored.carts[1].loaded) << "cart-2's load";
  EXPECT_EQ(found.restored.jobs[1].cart, CartIx{2});
  EXPECT_EQ(found.restored.jobs[2].cart, CartIx{1});
}

TEST_F(Change, ACartThatGetsTheNameOfOneThatWasOffTheFloorIsAnotherCart) {
  record_of_cart_1({CartIx{0}, true, true, "", {}});
  const std::vector<std::string> without{"cart-2", "cart-3"};
  EXPECT_THAT(load(before, without).notes, IsEmpty());
  const Found back = load(before);
  for (const control::CartRecord& record : back.restored.carts)
    EXPECT_NE(record.cart, CartIx{0}) << "the load that the other one had";
}

TEST_F(Change, ACartInDoubtWithNoPlaceIsNotTakenOutUnnoticed) {
  record_of_cart_1({CartIx{0}, true, false, "who knows", {}});
  const std::vector<std::string> without{"cart-2", "cart-3"};
  const Found found = load(before, without);
  EXPECT_TRUE(found.restored.fleet.all_stopped);
  EXPECT_THAT(found.notes, ElementsAre(HasSubstr("cart-1 is no longer in the fleet")));
  // Once: after a person's release the next start stops nobody again.
  run_sql(folder.database(), "UPDATE service SET all_stopped = 0");
  const Found next = load(before, without);
  EXPECT_FALSE(next.restored.fleet.all_stopped);
  EXPECT_THAT(next.notes, IsEmpty());
}

TEST_F(Change, APathThatDoesNotFitLeavesItsCartInDoubtAtItsPoints) {
  run_sql(folder.database(), "UPDATE paths SET steps = replace(steps, 'S5>@B/S1>', 'S5>@B/S9>')");
  const Found found = load(before);
  EXPECT_FALSE(found.floor_changed);
  EXPECT_THAT(found.restored.paths, IsEmpty());
  ASSERT_THAT(found.restored.carts, SizeIs(2));
  EXPECT_THAT(found.restored.carts[0].doubt, HasSubstr("does not fit the floor"));
  EXPECT_THAT(found.restored.carts[0].maybe_at, ElementsAre(PointIx{0}, PointIx{1}, PointIx{4}));
  EXPECT_THAT(found.notes, ElementsAre(HasSubstr("cart-2")));
}

}  // namespace
}  // namespace tagline::store::test
