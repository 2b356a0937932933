// Whatever differs between two outcomes is seen in their bytes and in their digests.
#include <gtest/gtest.h>

#include <functional>
#include <set>

#include "server/replay/outcome_bytes.hpp"

namespace tagline::replay::test {
namespace {

using namespace control;

Outcome sample() {
  Job job;
  job.id = {7};
  job.via = {{StationIx{1}, Handling::load}};
  job.cart = CartIx{2};
  Outcome outcome;
  outcome.records = {JobRecord{job}, PathRecord{{1}, 3, JobId{7}, {{4, {5}, Act::load}}},
                     CartRecord{{1}, false, true, "why", {{3}}}, FleetRecord{true},
                     StationRecord{{1}, 4}};
  outcome.messages = {
      TellAuthority{{1}, 3, {{.step = 4, .point = {5}, .length = Mm{900}, .speed = MmPerS{400}}}},
      TellHold{{1}, "merge"}, TellStop{{1}, "all"}, TellRelease{{1}}, TellReset{{1}}};
  outcome.answers = {
      {8, JobTaken{{7}, false}}, {9, Accepted{}}, {10, Refusal{Refused::conflict, "no"}}};
  outcome.changes = {JobChanged{{7}}, CartChanged{{1}}, AlarmsChanged{}};
  outcome.trace = {ReadTrace{{1}, {5}, 4, {{6}}}, UnknownTagTrace{{1}, "04A1"}};
  return outcome;
}

TEST(Outcome, EqualOnesHaveEqualBytes) {
  EXPECT_EQ(outcome_bytes(sample()), outcome_bytes(sample()));
  EXPECT_EQ(digest_of(sample()), digest_of(sample()));
}

TEST(Outcome, NothingIsToldFromSomething) {
  EXPECT_EQ(digest_of({}).what, Digest::What::nothing);
  Outcome outcome;
  outcome.changes = {AlarmsChanged{}};
  EXPECT_EQ(digest_of(outcome).what, Digest::What::something);
}

TEST(Outcome, EveryDifferenceIsSeen) {
  const std::vector<std::function<void(Outcome&)>> changes{
      [](Outcome& o) { std::get<JobRecord>(o.records[0]).job.id.value = 8; },
      [](Outcome& o) { std::get<JobRecord>(o.records[0]).job.via[0].what = Handling::unload; },
      [](Outcome& o) { std::get<JobRecord>(o.records[0]).job.cart.reset(); },
      [](Outcome& o) { std::get<JobRecord>(o.records[0]).job.reason = "r"; },
      [](Outcome& o) { std::get<JobRecord>(o.records[0]).job.ended_at = Instant{}; },
      [](Outcome& o) { std::get<PathRecord>(o.records[1]).path[0].pose = {6}; },
      [](Outcome& o) { std::get<PathRecord>(o.records[1]).path[0].act = Act::rest; },
      [](Outcome& o) { std::get<PathRecord>(o.records[1]).trip = 4; },
      [](Outcome& o) { std::get<CartRecord>(o.records[2]).maybe_at.clear(); },
      [](Outcome& o) { std::get<FleetRecord>(o.records[3]).all_stopped = false; },
      [](Outcome& o) { std::get<StationRecord>(o.records[4]).loads = -4; },
      [](Outcome& o) { o.records.pop_back(); },
      [](Outcome& o) { std::swap(o.records[3], o.records[4]); },
      [](Outcome& o) { std::get<TellAuthority>(o.messages[0]).points[0].speed = MmPerS{401}; },
      [](Outcome& o) { std::get<TellAuthority>(o.messages[0]).points[0].act = ToldAct::wait; },
      [](Outcome& o) { std::get<TellAuthority>(o.messages[0]).points[0].gear = floor::Gear::back; },
      [](Outcome& o) { std::get<TellHold>(o.messages[1]).reason = "merg"; },
      [](Outcome& o) { o.messages[3] = TellReset{{1}}; },
      [](Outcome& o) { o.answers[0].request = 9; },
      [](Outcome& o) { std::get<JobTaken>(o.answers[0].what).repeated = true; },
      [](Outcome& o) { std::get<Refusal>(o.answers[2].what).kind = Refused::invalid; },
      [](Outcome& o) { o.answers[1].what = JobTaken{}; },
      [](Outcome& o) { o.changes[2] = FleetChanged{}; },
      [](Outcome& o) { std::get<ReadTrace>(o.trace[0]).missed[0] = {7}; },
      [](Outcome& o) { std::get<UnknownTagTrace>(o.trace[1]).tag = "04A2"; },
  };
  std::set<std::string> bytes{outcome_bytes(sample())};
  std::set<std::uint64_t> digests{digest_of(sample()).value};
  for (const auto& change : changes) {
    Outcome changed = sample();
    change(changed);
    bytes.insert(outcome_bytes(changed));
    digests.insert(digest_of(changed).value);
  }
  EXPECT_EQ(bytes.size(), changes.size() + 1);
  EXPECT_EQ(digests.size(), changes.size() + 1);
}

}  // namespace
}  // namespace tagline::replay::test
