#include "base/time.hpp"

#include <fmt/format.h>

namespace vacuary {
namespace {

constexpr std::int64_t ns_per_s = 1'000'000'000;
constexpr std::int64_t s_per_day = 86'400;

// Days from civil and back: H. Hinnant, "chrono-compatible low-level date algorithms" (public domain).
constexpr std::int64_t days_from_civil(std::int64_t y, unsigned m, unsigned d) {
  y -= m <= 2 ? 1 : 0;
  const std::int64_t era = (y >= 0 ? y : y - 399) / 400;
  const auto yoe = static_cast<unsigned>(y - era * 400);
  const unsigned doy = (153 * (m > 2 ? m - 3 : m + 9) + 2) / 5 + d - 1;
  const unsigned doe = yoe * 365 + yoe / 4 - yoe / 100 + doy;
  return era * 146097 + static_cast<std::int64_t>(doe) - 719468;
}

struct Civil {
  std::int64_t year;
  unsigned month, day;
};

constexpr Civil civil_from_days(std::int64_t z) {
  z += 719468;
  const std::int64_t era = (z >= 0 ? z : z - 146096) / 146097;
  const auto doe = static_cast<unsigned>(z - era * 146097);
  const unsigned yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
  const unsigned doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
  const unsigned mp = (5 * doy + 2) / 153;
  const unsigned month = mp < 10 ? mp + 3 : mp - 9;
  return {static_cast<std::int64_t>(yoe) + era * 400 + (month <= 2 ? 1 : 0), month,
          doy - (153 * mp + 2) / 5 + 1};
}

constexpr unsigned days_in_month(std::int64_t year, unsigned month) {
  constexpr unsigned days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  return month == 2 && leap ? 29 : days[month - 1];
}

// Reads exactly `digits` digits; -1 when there are fewer.
int take_number(std::string_view& text, std::size_t digits) {
  if (text.size() < digits) return -1;
  int value = 0;
  for (std::size_t i = 0; i < digits; ++i) {
    if (text[i] < '0' || text[i] > '9') return -1;
    value = value * 10 + (text[i] - '0');
  }
  text.remove_prefix(digits);
  return value;
}

bool take(std::string_view& text, std::string_view any_of) {
  if (text.empty() || any_of.find(text.front()) == std::string_view::npos) return false;
  text.remove_prefix(1);
  return true;
}

// A fraction of a second, cut (not rounded) to nanoseconds; -1 when no digit follows the point.
std::int64_t take_fraction(std::string_view& text) {
  std::int64_t ns = 0;
  std::int64_t scale = ns_per_s;
  std::size_t digits = 0;
  while (!text.empty() && text.front() >= '0' && text.front() <= '9') {
    scale /= 10;
    ns += scale * (text.front() - '0');
    text.remove_prefix(1);
    ++digits;
  }
  return digits == 0 ? -1 : ns;
}

}  // namespace

std::string to_rfc3339(Instant instant) {
  std::int64_t s = instant.ns / ns_per_s;
  std::int64_t ns = instant.ns % ns_per_s;
  if (ns < 0) {
    ns += ns_per_s;
    --s;
  }
  std::int64_t day = s / s_per_day;
  std::int64_t second = s % s_per_day;
  if (second < 0) {
    second += s_per_day;
    --day;
  }
  const Civil civil = civil_from_days(day);
  std::string out = fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}", civil.year, civil.month, civil.day,
                                second / 3600, second / 60 % 60, second % 60);
  if (ns % 1'000'000 == 0) {
    if (ns != 0) out += fmt::format(".{:03}", ns / 1'000'000);
  } else if (ns % 1'000 == 0) {
    out += fmt::format(".{:06}", ns / 1'000);
  } else {
    out += fmt::format(".{:09}", ns);
  }
  return out + "Z";
}

bool from_rfc3339(std::string_view text, Instant& instant) {
  const int year = take_number(text, 4);
  if (year < 1678 || year > 2261 || !take(text, "-")) return false;
  const int month = take_number(text, 2);
  if (month < 1 || month > 12 || !take(text, "-")) return false;
  const int day = take_number(text, 2);
  if (day < 1 || static_cast<unsigned>(day) > days_in_month(year, static_cast<unsigned>(month))) return false;
  if (!take(text, "Tt ")) return false;
  const int hour = take_number(text, 2);
  if (hour < 0 || hour > 23 || !take(text, ":")) return false;
  const int minute = take_number(text, 2);
  if (minute < 0 || minute > 59 || !take(text, ":")) return false;
  const int second = take_number(text, 2);
  if (second < 0 || second > 60) return false;
  std::int64_t fraction = 0;
  if (take(text, ".")) {
    fraction = take_fraction(text);
    if (fraction < 0) return false;
  }
  std::int64_t offset_s = 0;
  if (!take(text, "Zz")) {
    if (text.empty()) return false;
    const std::int64_t sign = text.front() == '-' ? -1 : 1;
    if (!take(text, "+-")) return false;
    const int offset_hour = take_number(text, 2);
    if (offset_hour < 0 || offset_hour > 23 || !take(text, ":")) return false;
    const int offset_minute = take_number(text, 2);
    if (offset_minute < 0 || offset_minute > 59) return false;
    offset_s = sign * (offset_hour * 3600 + offset_minute * 60);
  }
  if (!text.empty()) return false;
  const std::int64_t seconds =
      days_from_civil(year, static_cast<unsigned>(month), static_cast<unsigned>(day)) * s_per_day +
      hour * 3600 + minute * 60 + second - offset_s;
  instant.ns = seconds * ns_per_s + (second == 60 ? 0 : fraction);
  return true;
}

}  // namespace vacuary
