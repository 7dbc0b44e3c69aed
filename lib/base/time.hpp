// Instants as integer nanoseconds since 1970-01-01T00:00:00Z (no leap seconds, as POSIX counts).
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace vacuary {

struct Instant {
  std::int64_t ns = 0;
  friend auto operator<=>(const Instant&, const Instant&) = default;
};

// RFC 3339 in UTC with as many fraction digits as needed (0, 3, 6 or 9): 2031-03-04T05:06:07.250Z
[[nodiscard]] std::string to_rfc3339(Instant instant);

// RFC 3339 section 5.6, "T" or one space between date and time, "Z" or a numeric offset; years
// 1678 to 2261 (what 64-bit nanoseconds hold). A leap second :60 is taken as the next second's
// start. False, and `instant` untouched, for anything else.
[[nodiscard]] bool from_rfc3339(std::string_view text, Instant& instant);

}  // namespace vacuary
