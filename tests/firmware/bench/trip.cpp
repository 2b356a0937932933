// A board of cups goes from casting (P5) to drying (P7), and much goes wrong on the way.
#include "tests/firmware/bench/trip.hpp"

namespace tagline {
namespace bench {

using cart::Act;
using cart::Branch;
using cart::EventKind;

const Place way[places] = {
    {"H1", "04A1000A", 0},     {"P3", "04A10003", 1691},  {"P4", "04A10004", 3257},
    {"P5", "04A10005", 4823},  {"P6", "04A10006", 6773},  {"P7", "04A10007", 8723},
    {"P8", "04A10008", 10489}, {"P1", "04A10001", 12255}, {"A1", "04A10009", 13883},
    {"H1", "04A1000A", 15383},
};
const char foreign_uid[] = "04BAD00D";

namespace {

template <uint8_t count>
void grant(Bench& bench, const Leg (&legs)[count]) {
  bench.grant(legs, count);
}

void to_the_station(Bench& bench) {
  bench.note("set down at H1 by a person");
  bench.set_down();
  bench.service_reset();
  bench.service_release();
  grant(bench, {{1, "04A1000A", Act::stop, 1, Branch::straight}});
  bench.run(1000);

  bench.note("a first authority; the tag of P4, where it ends, is dirty");
  bench.rail().set_dirty("04A10004", true);
  grant(bench, {{1, "04A1000A", Act::go, 1, Branch::straight},
                {2, "04A10003", Act::go, 1691, Branch::straight},
                {3, "04A10004", Act::wait, 1566, Branch::straight}});
  bench.run_until(EventKind::read, 2);
  grant(bench, {{2, "04A10003", Act::go, 1, Branch::straight},
                {3, "04A10004", Act::go, 1566, Branch::straight},
                {4, "04A10005", Act::load, 1566, Branch::straight}});
  bench.run_until(EventKind::read, 4);
  bench.count_missed();
  bench.note("an old authority comes late");
  grant(bench, {{1, "04A1000A", Act::go, 1, Branch::straight},
                {2, "04A10003", Act::go, 1691, Branch::straight},
                {3, "04A10004", Act::wait, 1566, Branch::straight}});
  bench.run_until(EventKind::done, 4);
}

void to_the_rack(Bench& bench) {
  grant(bench, {{4, "04A10005", Act::go, 1, Branch::straight},
                {5, "04A10006", Act::turn, 1950, Branch::straight},
                {6, "04A10007", Act::unload, 1950, Branch::left}});
  bench.run_until(EventKind::read, 5);
  bench.run(8000);
  bench.service_stop();
  bench.run(2000);
  bench.service_release();
  bench.run(2000);
  bench.press_stop();
  bench.run(1500);
  bench.service_release();
  bench.run(1500);
  bench.press_release();
  bench.run_until(EventKind::done, 6);
}

void to_the_end_of_authority(Bench& bench) {
  grant(bench, {{6, "04A10007", Act::go, 1, Branch::straight},
                {7, "04A10008", Act::go, 1766, Branch::straight},
                {8, "04A10001", Act::wait, 1766, Branch::straight}});
  bench.run(3000);
  bench.note("the link is lost");
  bench.lose_link();
  bench.run_until(EventKind::read, 8);
  bench.run(3000);
  bench.note("the link is there again");
  bench.connect(22);
  bench.run(200);
}

void through_a_loss_of_power(Bench& bench) {
  grant(bench, {{8, "04A10001", Act::go, 1, Branch::straight},
                {9, "04A10009", Act::go, 1628, Branch::left},
                {10, "04A1000A", Act::stop, 1500, Branch::straight}});
  bench.run(3000);
  bench.note("no power");
  bench.lose_power(2000);
  bench.service_stop();
  bench.run(1000);
  bench.note("a person has looked");
  bench.service_release();
  grant(bench, {{8, "04A10001", Act::go, 1, Branch::straight},
                {9, "04A10009", Act::go, 1628, Branch::left},
                {10, "04A1000A", Act::stop, 1500, Branch::straight}});
  bench.run_until(EventKind::read, 9);
}

void over_a_foreign_tag(Bench& bench) {
  bench.run_until(EventKind::read, 0);
  bench.run(2000);
  bench.note("a person says that it is on the way from A1");
  bench.service_reset();
  bench.run(1000);
  grant(bench, {{11, "04A10009", Act::go, 1, Branch::straight},
                {12, "04A1000A", Act::stop, 1500, Branch::straight}});
  bench.run_until(EventKind::read, 12);
  bench.run(1000);
}

void past_a_tag_that_does_not_come(Bench& bench) {
  bench.note("the tag of P3 is gone, and something stands in the way for a while");
  grant(bench, {{12, "04A1000A", Act::go, 1, Branch::straight},
                {13, "04A10003", Act::wait, 1691, Branch::straight}});
  bench.run(2000);
  bench.rail().set_obstacle(true);
  bench.run(3000);
  bench.rail().set_obstacle(false);
  bench.run(12000);
}

}  // namespace

void run_trip(Bench& bench) {
  for (const Place& place : way) bench.rail().lay(place.uid, place.at);
  bench.rail().lay(foreign_uid, foreign_at);
  to_the_station(bench);
  to_the_rack(bench);
  to_the_end_of_authority(bench);
  through_a_loss_of_power(bench);
  over_a_foreign_tag(bench);
  past_a_tag_that_does_not_come(bench);
}

}  // namespace bench
}  // namespace tagline
