// Times of RFC 3339; the examples are those of its section 5.8.
#include "server/net/time_text.hpp"

#include <gtest/gtest.h>

namespace tagline::net::test {
namespace {

Instant at_ms(std::int64_t ms) { return Instant{Duration{ms}}; }

TEST(TimeText, IsRfc3339) {
  EXPECT_EQ(time_text(at_ms(0)), "1970-01-01T00:00:00.000Z");
  // Section 5.8, first example, with its 52 hundredths written as thousandths.
  EXPECT_EQ(time_text(at_ms(482'196'050'520)), "1985-04-12T23:20:50.520Z");
}

TEST(TimeText, ReadsTheExamplesOfTheStandard) {
  EXPECT_EQ(time_from("1985-04-12T23:20:50.52Z"), at_ms(482'196'050'520));
  // "20 minutes and 57 seconds after the 16th hour ... equivalent to 1996-12-20T00:39:57Z".
  EXPECT_EQ(time_from("1996-12-19T16:39:57-08:00"), time_from("1996-12-20T00:39:57Z"));
  EXPECT_EQ(time_from("1996-12-20T00:39:57Z"), at_ms(851'042'397'000));
  // The leap second of 1990, in UTC and in Pacific Standard Time.
  EXPECT_EQ(time_from("1990-12-31T23:59:60Z"), time_from("1991-01-01T00:00:00Z"));
  EXPECT_EQ(time_from("1990-12-31T15:59:60-08:00"), time_from("1990-12-31T23:59:60Z"));
  // The last example (1937) is before 1970, which is no time for a job.
  EXPECT_EQ(time_from("1937-01-01T12:00:27.87+00:20"), std::nullopt);
}

TEST(TimeText, ReadsWhatItWrites) {
  for (const std::int64_t ms : {0LL, 1LL, 951'782'399'999LL, 1'795'602'600'123LL})
    EXPECT_EQ(time_from(time_text(at_ms(ms))), at_ms(ms));
}

TEST(TimeText, SmallLettersFractionsAndOffsets) {
  EXPECT_EQ(time_from("2026-11-25t14:30:00z"), time_from("2026-11-25T14:30:00Z"));
  EXPECT_EQ(time_from("2026-11-25T14:30:00-00:00"), time_from("2026-11-25T14:30:00Z"));
  EXPECT_EQ(time_from("2026-11-25T14:30:00+05:45"), time_from("2026-11-25T08:45:00Z"));
  EXPECT_EQ(time_from("2026-11-25T14:30:00.123456789Z"), time_from("2026-11-25T14:30:00.123Z"));
  EXPECT_EQ(time_from("2024-02-29T00:00:00Z"), at_ms(1'709'164'800'000));
}

TEST(TimeText, AnythingElseIsNoTime) {
  for (const char* text : {"",
                           "now",
                           "2026-11-25",
                           "2026-11-25T14:30",
                           "2026-11-25T14:30:00",
                           "2026-11-25 14:30:00Z",
                           "2026-11-25T14:30:00 Z",
                           "2026-11-25T14:30:00.Z",
                           "2026-11-25T14:30:00,5Z",
                           "2026-11-25T24:00:00Z",
                           "2026-11-25T14:60:00Z",
                           "2026-11-25T14:30:61Z",
                           "2026-11-25T14:30:60Z",
                           "2026-13-01T00:00:00Z",
                           "2026-00-01T00:00:00Z",
                           "2026-02-29T00:00:00Z",
                           "2026-11-31T00:00:00Z",
                           "2026-11-00T00:00:00Z",
                           "2026-11-25T14:30:00+24:00",
                           "2026-11-25T14:30:00+01:60",
                           "2026-11-25T14:30:00+0100",
                           "2026-11-25T14:30:00+01",
                           "2026-11-25T14:30:00Zx",
                           " 2026-11-25T14:30:00Z",
                           "26-11-25T14:30:00Z",
                           "+2026-11-25T14:30:00Z",
                           "1969-12-31T23:59:59Z",
                           "2026-1l-25T14:30:00Z"})
    EXPECT_EQ(time_from(text), std::nullopt) << text;
}

}  // namespace
}  // namespace tagline::net::test
