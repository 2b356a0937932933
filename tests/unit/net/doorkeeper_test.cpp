// What counts as use of a session: a board that stays open, too.
#include "server/net/doorkeeper.hpp"

#include <gtest/gtest.h>

namespace tagline::net::test {
namespace {

using namespace std::chrono_literals;

// Later than any clock this runs by, so that a service's clock begins just there.
constexpr Instant opened{Duration{4'000'000'000'000}};

TEST(Doorkeeper, ABoardLeftOpenKeepsItsSessionInUse) {
  access::Book book({});
  ASSERT_EQ(book.add_account("Berta", access::Role::builder, "hash", opened),
            access::Book::Refused::nothing);
  Visitor visitor;
  visitor.key = access::sha256("berta's session");
  book.open_session("berta", visitor.key, opened);
  const auto still_there = [&](Instant now) {
    const ServiceClock clock(now, 1);
    return Doorkeeper(book, clock, std::nullopt).may_stay(visitor);
  };
  const Duration most_of_it = access::Book::idle_time - 1h;
  for (int k = 1; k <= 3; ++k) EXPECT_TRUE(still_there(opened + k * most_of_it)) << k;
  // With nobody looking it ends, and asking does not bring it back.
  const Instant late = opened + 3 * most_of_it + access::Book::idle_time + 1min;
  EXPECT_FALSE(still_there(late));
  EXPECT_FALSE(still_there(late));
}

}  // namespace
}  // namespace tagline::net::test
