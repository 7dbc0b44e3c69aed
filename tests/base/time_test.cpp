#include "base/time.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <string>

using namespace vacuary;

namespace {

// The instant as text again, or "refused".
std::string again(const std::string& text) {
  Instant instant{42};
  if (from_rfc3339(text, instant)) return to_rfc3339(instant);
  CHECK(instant.ns == 42);  // untouched
  return "refused";
}

}  // namespace

TEST_CASE("the examples of RFC 3339 section 5.8") {
  CHECK(again("1985-04-12T23:20:50.52Z") == "1985-04-12T23:20:50.520Z");
  CHECK(again("1996-12-19T16:39:57-08:00") == "1996-12-20T00:39:57Z");  // its equivalent as the RFC gives it
  CHECK(again("1990-12-31T23:59:60Z") == "1991-01-01T00:00:00Z");       // a leap second
  CHECK(again("1990-12-31T15:59:60-08:00") == "1991-01-01T00:00:00Z");  // the same leap second
  CHECK(again("1937-01-01T12:00:27.87+00:20") == "1937-01-01T11:40:27.870Z");
}

TEST_CASE("well-known instants") {
  Instant instant;
  REQUIRE(from_rfc3339("1970-01-01T00:00:00Z", instant));
  CHECK(instant.ns == 0);
  // Seconds since 1970 of 2001-09-09T01:46:40Z are 10^9: POSIX "Seconds Since the Epoch".
  REQUIRE(from_rfc3339("2001-09-09T01:46:40Z", instant));
  CHECK(instant.ns == 1'000'000'000'000'000'000);
  REQUIRE(from_rfc3339("1969-12-31T23:59:59.999999999Z", instant));
  CHECK(instant.ns == -1);
  CHECK(again("2000-02-29T00:00:00Z") == "2000-02-29T00:00:00Z");
}

TEST_CASE("fractions are printed in threes and cut at nanoseconds") {
  CHECK(again("2031-03-04T05:06:07.25Z") == "2031-03-04T05:06:07.250Z");
  CHECK(again("2031-03-04T05:06:07.000250Z") == "2031-03-04T05:06:07.000250Z");
  CHECK(again("2031-03-04T05:06:07.0000000019Z") == "2031-03-04T05:06:07.000000001Z");
  CHECK(again("2031-03-04T05:06:07.0Z") == "2031-03-04T05:06:07Z");
  CHECK(again("2031-03-04t05:06:07z") == "2031-03-04T05:06:07Z");
  CHECK(again("2031-03-04 05:06:07Z") == "2031-03-04T05:06:07Z");
}

TEST_CASE("the limits of 64-bit nanoseconds") {
  CHECK(again("1678-01-01T00:00:00Z") == "1678-01-01T00:00:00Z");
  CHECK(again("2261-12-31T23:59:59.999999999Z") == "2261-12-31T23:59:59.999999999Z");
  CHECK(again("1677-12-31T23:59:59Z") == "refused");
  CHECK(again("2262-01-01T00:00:00Z") == "refused");
  // An offset may carry over the end of the year, never over the end of the type.
  CHECK(again("2261-12-31T23:59:60-23:59") == "2262-01-01T23:59:00Z");
  CHECK(again("1678-01-01T00:00:00+23:59") == "1677-12-31T00:01:00Z");
  CHECK(to_rfc3339({std::numeric_limits<std::int64_t>::max()}) == "2262-04-11T23:47:16.854775807Z");
  CHECK(to_rfc3339({std::numeric_limits<std::int64_t>::min()}) == "1677-09-21T00:12:43.145224192Z");
}

TEST_CASE("anything else is refused") {
  for (const char* text : {"",
                           "2031",
                           "2031-03-04",
                           "2031-03-04T05:06",
                           "2031-03-04T05:06:07",
                           "2031-03-04T05:06:07+01",
                           "2031-03-04T05:06:07+0100",
                           "2031-03-04T05:06:07Z ",
                           " 2031-03-04T05:06:07Z",
                           "2031-03-04  05:06:07Z",
                           "2031-3-04T05:06:07Z",
                           "2031-13-04T05:06:07Z",
                           "2031-00-04T05:06:07Z",
                           "2031-02-29T05:06:07Z",
                           "2100-02-29T05:06:07Z",
                           "2031-04-31T05:06:07Z",
                           "2031-03-00T05:06:07Z",
                           "2031-03-04T24:00:00Z",
                           "2031-03-04T05:60:07Z",
                           "2031-03-04T05:06:61Z",
                           "2031-03-04T05:06:07.Z",
                           "2031-03-04T05:06:07,5Z",
                           "2031-03-04T05:06:07+24:00",
                           "2031-03-04T05:06:07+01:60",
                           "2031-03-04T05:06:07*01:00",
                           "20310304T050607Z",
                           "-031-03-04T05:06:07Z",
                           "+2031-03-04T05:06:07Z",
                           "2031-03-04T05:06:-7Z",
                           "now",
                           "2031-03-04T05:06:07ZZ"}) {
    CHECK_MESSAGE(again(text) == "refused", text);
  }
}

TEST_CASE("every day of four centuries and every second of a day come back") {
  for (std::int64_t day = -146097 / 2; day < 146097 / 2; ++day) {
    const Instant instant{day * 86'400'000'000'000 + 43'200'000'000'000};
    Instant back;
    REQUIRE(from_rfc3339(to_rfc3339(instant), back));
    REQUIRE(back == instant);
  }
  for (std::int64_t second = 0; second < 86400; ++second) {
    const Instant instant{second * 1'000'000'000};
    Instant back;
    REQUIRE(from_rfc3339(to_rfc3339(instant), back));
    REQUIRE(back == instant);
  }
}
