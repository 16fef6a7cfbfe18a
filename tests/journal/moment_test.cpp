// Times against the examples of RFC 3339 and ids against the test vector of RFC 9562.
#include "journal/moment.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "journal/uuid.hpp"

namespace tillwrap::journal {
namespace {

// Seconds after 1970 of `date -u -d TEXT +%s` (GNU coreutils), where the RFC gives none.
TEST(Moment, ExamplesOfRfc3339Section5_8) {
  EXPECT_EQ(parse_moment("1985-04-12T23:20:50.52Z"), (Moment{482196050'520000, 0}));
  // "39 minutes and 57 seconds after the 16th hour of December 19th, 1996 with an offset of -08:00 from UTC. Note that
  // this is equivalent to 1996-12-20T00:39:57Z in UTC."
  EXPECT_EQ(parse_moment("1996-12-19T16:39:57-08:00"), (Moment{851042397'000000, -480}));
  EXPECT_EQ(parse_moment("1996-12-19T16:39:57-08:00").us, parse_moment("1996-12-20T00:39:57Z").us);
  // "This represents the leap second inserted at the end of 1990."
  EXPECT_EQ(parse_moment("1990-12-31T23:59:60Z").us, parse_moment("1991-01-01T00:00:00Z").us);
  // "This represents the same leap second in Pacific Standard Time, 8 hours behind UTC."
  EXPECT_EQ(parse_moment("1990-12-31T15:59:60-08:00").us, parse_moment("1990-12-31T23:59:60Z").us);
  // "This represents the same instant of time as noon, January 1, 1937, Netherlands time": 19 min 32.13 s ahead of UTC,
  // written with the nearest offset.
  EXPECT_EQ(parse_moment("1937-01-01T12:00:27.87+00:20"), (Moment{-1041337172'130000, 20}));
}

TEST(Moment, LettersMayBeSmallAndUnknownOffsetIsUtc) {  // section 5.6 note, section 4.3
  EXPECT_EQ(parse_moment("1985-04-12t23:20:50.52z").us, parse_moment("1985-04-12T23:20:50.52Z").us);
  EXPECT_EQ(parse_moment("1985-04-12T23:20:50-00:00").us, parse_moment("1985-04-12T23:20:50Z").us);
}

TEST(Moment, Refused) {
  for (const char* text : {"",
                           "2026-11-25",
                           "2026-11-25T14:05:00",
                           "2026-11-25 14:05:00+01:00",
                           "2026-11-25T14:05+01:00",
                           "2026-13-01T00:00:00Z",
                           "2026-02-29T00:00:00Z",
                           "2026-04-31T00:00:00Z",
                           "2026-01-00T00:00:00Z",
                           "2026-01-01T24:00:00Z",
                           "2026-01-01T00:60:00Z",
                           "2026-01-01T12:00:60Z",
                           "2026-12-31T23:59:60+01:00",
                           "2026-01-01T00:00:61Z",
                           "2026-01-01T00:00:00+24:00",
                           "2026-01-01T00:00:00+1:00",
                           "2026-01-01T00:00:00.Z",
                           "2026-01-01T00:00:00Zz",
                           "26-01-01T00:00:00Z",
                           "2026-01-01T00:00:00+0100",
                           "\xEF\xBC\x92"}) {
    EXPECT_THROW(parse_moment(text), MomentError) << text;
  }
  EXPECT_NO_THROW(parse_moment("2024-02-29T00:00:00Z"));
  EXPECT_NO_THROW(parse_moment("2000-02-29T00:00:00Z"));
  EXPECT_THROW(parse_moment("2100-02-29T00:00:00Z"), MomentError);  // centuries not divisible by 400
}

RC_GTEST_PROP(Moment, TextAndBack, ()) {
  const Moment moment{*rc::gen::inRange<std::int64_t>(-62'135'596'800, 253'402'300'000) * kSecond_us / 1 +
                          *rc::gen::inRange(0, 1'000'000),
                      *rc::gen::inRange(-1439, 1440)};
  const Civil civil = civil_of(moment.us, moment.offset_min);
  RC_PRE(civil.year >= 0 && civil.year <= 9999);
  RC_ASSERT(parse_moment(moment_text(moment)) == moment);
}

TEST(Uuid7, VectorOfRfc9562AppendixA6) {
  // unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0b01 8C4DC0C0C07398F: 017F22E2-79B0-7CC3-98C4-DC0C0C07398F,
  // Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00.
  const RandomBytes random{0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F};
  const std::string id = make_uuid7(0x017F22E279B0, random);
  EXPECT_EQ(id, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
  EXPECT_TRUE(is_uuid7(id));
  EXPECT_EQ(1000 * made_ms(id), parse_moment("2022-02-22T14:22:22.00-05:00").us);
}

TEST(Uuid7, WhatIsNone) {
  for (const char* text : {"", "017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "017f22e2-79b0-4cc3-98c4-dc0c0c07398f",
                           "017f22e2-79b0-7cc3-78c4-dc0c0c07398f", "017f22e279b07cc398c4dc0c0c07398f",
                           "017f22e2-79b0-7cc3-98c4-dc0c0c07398"}) {
    EXPECT_FALSE(is_uuid7(text)) << text;
  }
}

// RFC 9562 section 6.2: ids of one source rise although the clock stands still or goes back.
RC_GTEST_PROP(Uuid7, AfterAlwaysRises, ()) {
  std::string previous;
  std::int64_t ms = 1'700'000'000'000;
  for (int k = 0; k < 50; ++k) {
    ms += *rc::gen::inRange(-5, 3);
    RandomBytes random{};
    const bool greatest = *rc::gen::inRange(0, 8) == 0;
    for (auto& byte : random) byte = greatest ? std::uint8_t{0xFF} : *rc::gen::arbitrary<std::uint8_t>();
    const std::string id = make_uuid7_after(previous, ms, random);
    RC_ASSERT(is_uuid7(id));
    RC_ASSERT(id > previous);
    previous = id;
  }
}

}  // namespace
}  // namespace tillwrap::journal
