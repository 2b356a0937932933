// A write that fails leaves nothing of itself, and the store usable.
#include <gmock/gmock.h>

#include "tests/unit/store/fixture.hpp"

namespace tagline::store::test {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

class Failure : public testing::Test {
 protected:
  Store open() { return Store(folder.data(), works.ways, three_carts); }
  Works works;
  TempFolder folder;
};

TEST_F(Failure, MidwayThroughAGroupNothingOfTheGroupStays) {
  open();
  run_sql(folder.database(),
          "CREATE TRIGGER refuse BEFORE INSERT ON carts WHEN new.cart = 'cart-2' "
          "BEGIN SELECT RAISE(ABORT, 'made to fail'); END");
  Store store = open();
  write(store, 10, batch({control::JobRecord{queued_job(1)}}));
  const std::vector<Batch> group{
      batch({control::JobRecord{queued_job(2)}, control::FleetRecord{true},
             control::CartRecord{CartIx{0}, true, false, "", {}}}),
      batch({control::PathRecord{CartIx{0}, 1, {}, path_to(works.ways, "K", 1)}},
            {{at(20), control::UnknownTagTrace{CartIx{0}, "04FF"}}}),
      batch({control::CartRecord{CartIx{1}, true, false, "", {}}})};
  EXPECT_THAT(refusal([&] { store.write(at(20), group); }),
              AllOf(HasSubstr("tagline.db"), HasSubstr("made to fail")));

  const Found found = store.load(at(30));
  EXPECT_THAT(found.restored.jobs, SizeIs(1));
  EXPECT_EQ(found.restored.last_job, 1U);
  EXPECT_THAT(found.restored.carts, IsEmpty());
  EXPECT_THAT(found.restored.paths, IsEmpty());
  EXPECT_FALSE(found.restored.fleet.all_stopped);
  EXPECT_EQ(found.latest, at(10));
  EXPECT_THAT(query(folder.database(), "SELECT tag FROM unknown_tags"), IsEmpty());

  // The same store goes on with its prepared statements.
  store.write(at(40), std::span(group).first(2));
  EXPECT_THAT(store.load(at(50)).restored.jobs, SizeIs(2));
}

TEST_F(Failure, AWriteThatAnotherProgramBlocksFailsWhole) {
  Store store = open();
  write(store, 10, batch({control::JobRecord{queued_job(1)}}));
  {
    SQLite::Database other(folder.database().string(), SQLite::OPEN_READWRITE, 1000);
    const SQLite::Transaction held(other, SQLite::TransactionBehavior::IMMEDIATE);
    EXPECT_THAT(refusal([&] { write(store, 20, batch({control::JobRecord{queued_job(2)}})); }),
                HasSubstr("another program keeps the database locked"));
  }
  EXPECT_THAT(store.load(at(30)).restored.jobs, SizeIs(1));
  write(store, 40, batch({control::JobRecord{queued_job(2)}}));
  EXPECT_THAT(store.load(at(50)).restored.jobs, SizeIs(2));
}

TEST_F(Failure, AnIdempotencyKeyBelongsToOneJob) {
  Store store = open();
  control::Job first = queued_job(1);
  first.key = "order-9";
  control::Job second = queued_job(2);
  second.key = "order-9";
  write(store, 0, batch({control::JobRecord{first}}));
  EXPECT_THAT(refusal([&] { write(store, 1, batch({control::JobRecord{second}})); }),
              HasSubstr("jobs.key"));
  EXPECT_FALSE(store.job({2}).has_value());

  first.state = control::JobState::assigned;  // its own later records keep the key
  write(store, 2, batch({control::JobRecord{first}}));
  EXPECT_EQ(store.job({1}).value().key, "order-9");

  control::Job third = queued_job(3);  // no key is no key: any number of jobs may have none
  control::Job fourth = queued_job(4);
  write(store, 3, batch({control::JobRecord{third}, control::JobRecord{fourth}}));
  EXPECT_THAT(store.load(at(4)).restored.jobs, SizeIs(3));
}

TEST_F(Failure, AKeyIsFreeOnlyADayAfterItsJobEnded) {
  constexpr std::int64_t day = 24 * 60 * 60 * 1000;
  Store store = open();
  control::Job first = queued_job(1);
  first.key = "order-9";
  control::Job again = queued_job(2);
  again.key = "order-9";
  write(store, 0, batch({control::JobRecord{first}}));
  EXPECT_THROW(write(store, 9 * day, batch({control::JobRecord{again}})), StoreError)
      << "still open";
  first.state = control::JobState::delivered;
  first.changed = at(9 * day);
  write(store, 9 * day, batch({control::JobRecord{first}}));
  EXPECT_THROW(write(store, 10 * day, batch({control::JobRecord{again}})), StoreError);
  write(store, 10 * day + 1, batch({control::JobRecord{again}}));
  EXPECT_EQ(store.job({2}).value().key, "order-9");
  EXPECT_EQ(store.job({1}).value().key, "");
}

}  // namespace
}  // namespace tagline::store::test
