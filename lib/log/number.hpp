// Decimal text to the nearest double, always (ties to even), as the log's cells need it.
//
// Most cells have few digits and small exponents: mantissa and power of ten are both exact
// doubles, so one multiplication or division rounds correctly (W. D. Clinger, "How to read
// floating point numbers accurately", PLDI 1990). The rest goes to std::from_chars.
#pragma once

#include <cstdint>
#include <string_view>

namespace vacuary::log {

enum class NumberIs : std::uint8_t {
  number,
  empty,      // nothing, or only blanks
  nan,        // "nan" in any case, with or without sign
  too_large,  // beyond the largest double, or "inf"
  unreadable
};

// How numbers are written in this log.
struct NumberStyle {
  char point = '.';
  // Between groups of three digits, before the point; the first of them does not begin with 0. ' ' is also
  // U+00A0, U+2009 and U+202F, '\'' also U+2019.
  char thousands = '\0';
};

// `text` may have blanks around it. Grammar: sign ('-' also as U+2212), digits with at most one point and at
// least one digit, exponent ('e', also 'd' as Fortran writes it). `value` is set for NumberIs::number only.
struct ParsedNumber {
  double value = 0;
  NumberIs is = NumberIs::unreadable;
  std::uint8_t decimals = 0;     // digits after the point, as written
  std::uint8_t significant = 0;  // without leading zeros, at most 19
};
[[nodiscard]] ParsedNumber parse_number(std::string_view text, const NumberStyle& style);

// The decimal `text` (grammar above) times 10^shift, rounded to an integer, ties away from zero.
// False when it is no number or does not fit. For time stamps: no double is involved.
[[nodiscard]] bool parse_scaled_integer(std::string_view text, const NumberStyle& style,
                                        std::int64_t multiplier, std::int64_t& out);

// 10^x without libm: the same bits on every machine; relative error below 1e-15.
[[nodiscard]] double power_of_ten(double x);

}  // namespace vacuary::log
