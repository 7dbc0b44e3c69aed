#include "log/stamp.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>

#include "base/base.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

using plan::TimeForm;

constexpr std::int64_t ns_per_s = 1'000'000'000;
constexpr std::int64_t ns_per_day = 86'400 * ns_per_s;

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// H. Hinnant, "chrono-compatible low-level date algorithms" (public domain).
std::int64_t days_from_civil(std::int64_t y, std::int64_t m, std::int64_t d) {
  y -= m <= 2 ? 1 : 0;
  const std::int64_t era = (y >= 0 ? y : y - 399) / 400;
  const std::int64_t yoe = y - era * 400;
  const std::int64_t doy = (153 * (m > 2 ? m - 3 : m + 9) + 2) / 5 + d - 1;
  return era * 146097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719468;
}

std::int64_t days_in_month(std::int64_t year, std::int64_t month) {
  constexpr std::array<std::int64_t, 12> days = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  return month == 2 && leap ? 29 : days[static_cast<std::size_t>(month - 1)];
}

// Beginnings of names, in small letters, in English, Spanish, French, German and Italian: a word that goes on
// from one of them is the name. No beginning is of two months.
constexpr std::array<std::string_view, 12> month_names = {"jan ene gen j\u00E4n",
                                                          "feb f\u00E9v fev",
                                                          "mar m\u00E4r maer mrz",
                                                          "apr abr avr",
                                                          "may mai mag",
                                                          "jun juin giu",
                                                          "jul juil lug",
                                                          "aug ago ao\u00FB aou",
                                                          "sep set",
                                                          "oct okt ott",
                                                          "nov",
                                                          "dec dez dic d\u00E9c"};

// A capital letter to its small one, also of UTF-8's two-byte Latin letters.
char small(char c, char before) {
  if (c >= 'A' && c <= 'Z') return static_cast<char>(c - 'A' + 'a');
  const auto u = static_cast<unsigned char>(c);
  const bool accented = before == '\xC3' && u >= 0x80 && u <= 0x9E && u != 0x97;
  return accented ? static_cast<char>(u + 0x20) : c;
}

// Reads a text by a format; the fields that were there.
class FormatScanner {
 public:
  explicit FormatScanner(std::string_view text) : text_(text) {}

  bool scan(std::string_view format) {
    for (std::size_t i = 0; i < format.size(); ++i) {
      if (format[i] == '%' && i + 1 < format.size()) {
        ++i;
        // Its fraction is a field of its own.
        const bool whole = format.size() > i + 3 && format.substr(i + 2, 2) == "%L";
        if (whole && format[i] == 'S' ? !number(1, 2, second_) : !field(format[i])) return false;
      } else if (format[i] == ' ') {
        skip_blanks();
      } else if (!take(format[i])) {
        return false;
      }
    }
    skip_blanks();
    return text_.empty();
  }

  // Local seconds since 1970; false when the date or time does not exist in any calendar.
  bool finish(std::int64_t& seconds) const {
    std::int64_t hour = hour_;
    if (half_ != Half::none) {
      if (hour < 1 || hour > 12) return false;
      hour = hour % 12 + (half_ == Half::pm ? 12 : 0);
    }
    if (year_ < 1678 || year_ > 2261 || hour > 23 || minute_ > 59 || second_ > 60) return false;
    std::int64_t days = 0;
    if (day_of_year_ > 0) {
      days = days_from_civil(year_, 1, 1) + day_of_year_ - 1;
      if (days >= days_from_civil(year_ + 1, 1, 1)) return false;
    } else {
      if (month_ < 1 || month_ > 12 || day_ < 1 || day_ > days_in_month(year_, month_)) return false;
      days = days_from_civil(year_, month_, day_);
    }
    seconds = days * 86'400 + hour * 3600 + minute_ * 60 + second_;
    return true;
  }
  // Of minute and second alone.
  [[nodiscard]] std::optional<std::int64_t> in_hour_ns() const {
    if (minute_ > 59 || second_ > 59) return std::nullopt;
    return (minute_ * 60 + second_) * ns_per_s + fraction_ns_;
  }
  [[nodiscard]] std::int64_t fraction_ns() const { return second_ == 60 ? 0 : fraction_ns_; }
  [[nodiscard]] std::optional<std::int64_t> offset_s() const { return offset_s_; }

 private:
  enum class Half : std::uint8_t { none, am, pm };

  void skip_blanks() {
    for (;;) {
      if (text_.starts_with(' ') || text_.starts_with('\t')) {
        text_.remove_prefix(1);
      } else if (text_.starts_with("\xC2\xA0")) {  // U+00A0
        text_.remove_prefix(2);
      } else if (text_.starts_with("\xE2\x80\xAF")) {  // U+202F
        text_.remove_prefix(3);
      } else {
        return;
      }
    }
  }
  bool take(char c) {
    if (text_.empty() || text_.front() != c) return false;
    text_.remove_prefix(1);
    return true;
  }
  bool number(std::size_t least, std::size_t most, std::int64_t& out) {
    std::size_t n = 0;
    out = 0;
    while (n < most && n < text_.size() && is_digit(text_[n])) out = out * 10 + (text_[n++] - '0');
    if (n < least) return false;
    text_.remove_prefix(n);
    return true;
  }
  // The letters that follow, small ones, and the point of an abbreviation.
  std::string word() {
    std::string out;
    while (out.size() < text_.size()) {
      const char c = text_[out.size()];
      if (static_cast<unsigned char>(c) < 0x80 && std::isalpha(static_cast<unsigned char>(c)) == 0) break;
      out.push_back(small(c, out.empty() ? '\0' : out.back()));
    }
    text_.remove_prefix(out.size());
    if (!out.empty()) take('.');
    return out;
  }
  bool month() {
    const std::string name = word();
    const auto* const found =
        std::find_if(month_names.begin(), month_names.end(),
                     [&name](std::string_view beginnings) { return begins_as_one_of(name, beginnings); });
    month_ = found - month_names.begin() + 1;
    return found != month_names.end();
  }
  static bool begins_as_one_of(std::string_view word, std::string_view beginnings) {
    while (!beginnings.empty()) {
      const std::size_t end = std::min(beginnings.find(' '), beginnings.size());
      if (word.starts_with(beginnings.substr(0, end))) return true;
      beginnings.remove_prefix(std::min(end + 1, beginnings.size()));
    }
    return false;
  }
  bool fraction() {
    std::int64_t scale = ns_per_s;
    std::size_t n = 0;
    fraction_ns_ = 0;
    for (; n < text_.size() && is_digit(text_[n]); ++n) {
      scale /= 10;
      fraction_ns_ += scale * (text_[n] - '0');
    }
    text_.remove_prefix(n);
    return n > 0;
  }
  bool milliseconds() {
    if (!number(1, 3, fraction_ns_)) return false;
    fraction_ns_ *= 1'000'000;
    return true;
  }
  bool offset() {
    const bool bracket = take('[') || take('(');
    if (!bare_offset() || (bracket && !take(']') && !take(')'))) return false;
    // "+01:00[Europe/Berlin]": the offset says it all.
    const std::size_t end = text_.find(']');
    if (text_.starts_with('[') && end != std::string_view::npos) text_.remove_prefix(end + 1);
    return true;
  }
  bool bare_offset() {
    struct Name {
      std::string_view text;
      std::int64_t hours;
    };
    constexpr std::array names = {Name{"Z", 0},   Name{"UTC", 0},  Name{"GMT", 0}, Name{"WEST", 1},
                                  Name{"WET", 0}, Name{"CEST", 2}, Name{"CET", 1}, Name{"MESZ", 2},
                                  Name{"MEZ", 1}, Name{"EEST", 3}, Name{"EET", 2}};
    for (const Name& name : names) {
      if (!text_.starts_with(name.text)) continue;
      text_.remove_prefix(name.text.size());
      offset_s_ = name.hours * 3600;
      const bool more = name.text.size() == 3 && name.hours == 0 && text_.find_first_of("+-") == 0;
      return !more || signed_offset(1);
    }
    return signed_offset(2);
  }
  bool signed_offset(std::size_t least_digits) {
    const bool west = !text_.empty() && text_.front() == '-';
    if (!take('+') && !take('-')) return false;
    std::int64_t hours = 0;
    std::int64_t minutes = 0;
    if (!number(least_digits, 2, hours)) return false;
    const bool parted = take(':');
    const bool whole_hours = !parted && (text_.empty() || !is_digit(text_.front()));
    if ((!whole_hours && !number(2, 2, minutes)) || hours > 23 || minutes > 59) return false;
    offset_s_ = (west ? -1 : 1) * (hours * 3600 + minutes * 60);
    return true;
  }
  bool half() {
    if (text_.empty()) return false;
    const char c = small(text_.front(), '\0');
    if (c != 'a' && c != 'p') return false;
    half_ = c == 'a' ? Half::am : Half::pm;
    text_.remove_prefix(1);
    if (take('.')) skip_blanks();  // "a. m."
    const bool m = take('m') || take('M');
    take('.');
    return m;
  }
  bool two_digit_year() {
    if (!number(2, 2, year_)) return false;
    year_ += year_ >= 69 ? 1900 : 2000;
    return true;
  }
  bool second() {
    if (!number(1, 2, second_)) return false;
    const bool point = text_.size() > 1 && (text_[0] == '.' || text_[0] == ',') && is_digit(text_[1]);
    if (point) text_.remove_prefix(1);
    return !point || fraction();
  }

  bool field(char what) {
    switch (what) {
      case 'Y':
        return number(4, 4, year_);
      case 'y':
        return two_digit_year();
      case 'm':
        return number(1, 2, month_);
      case 'd':
      case 'e':
        skip_blanks();
        return number(1, 2, day_);
      case 'b':
      case 'B':
        return month();
      case 'a':
      case 'A':
        return !word().empty();
      case 'H':
      case 'I':
        skip_blanks();
        return number(1, 2, hour_);
      case 'p':
        return half();
      case 'M':
        return number(1, 2, minute_);
      case 'S':
        return second();
      case 'f':
        return fraction();
      case 'L':
        return milliseconds();
      case 'j':
        return number(1, 3, day_of_year_) && day_of_year_ > 0;
      case 'z':
        return offset();
      case '%':
        return take('%');
      case 'F':
        return number(4, 4, year_) && take('-') && number(1, 2, month_) && take('-') && number(1, 2, day_);
      case 'T':
        return number(1, 2, hour_) && take(':') && number(1, 2, minute_) && take(':') && second();
      default:
        return false;
    }
  }

  std::string_view text_;
  std::int64_t year_ = 0, month_ = 0, day_ = 0, day_of_year_ = 0, hour_ = 0, minute_ = 0, second_ = 0;
  std::int64_t fraction_ns_ = 0;
  Half half_ = Half::none;
  std::optional<std::int64_t> offset_s_;
};

// The first thing in a format that FormatScanner would not know.
std::string unknown_field(const std::string& format) {
  constexpr std::string_view known = "YymdebBaAHIpMSfLjz%FT";
  for (std::size_t i = 0; i < format.size(); ++i) {
    if (format[i] != '%') continue;
    if (i + 1 == format.size()) return "%";
    if (known.find(format[++i]) == std::string_view::npos) return format.substr(i - 1, 2);
  }
  return "";
}

bool needs_zone(const plan::ChannelMap& map) {
  if (map.time_form == TimeForm::spreadsheet_day) return true;
  return map.time_form == TimeForm::local && map.time_format.find("%z") == std::string::npos;
}

bool fits(std::int64_t seconds) { return seconds > -9'223'372'036 && seconds < 9'223'372'036; }

}  // namespace

std::int64_t ns_of_one(TimeForm form) {
  switch (form) {
    case TimeForm::epoch_s:
    case TimeForm::elapsed_s:
      return ns_per_s;
    case TimeForm::epoch_ms:
    case TimeForm::elapsed_ms:
      return 1'000'000;
    case TimeForm::epoch_us:
      return 1'000;
    case TimeForm::epoch_ns:
      return 1;
    case TimeForm::elapsed_min:
      return 60 * ns_per_s;
    case TimeForm::elapsed_h:
      return 3600 * ns_per_s;
    case TimeForm::elapsed_d:
    case TimeForm::mjd:
    case TimeForm::julian_date:
      return ns_per_day;
    case TimeForm::rfc3339:
    case TimeForm::local:
    case TimeForm::spreadsheet_day:
    case TimeForm::elapsed_clock:
      break;
  }
  return 0;
}

bool is_elapsed(TimeForm form) {
  return form == TimeForm::elapsed_clock || form == TimeForm::elapsed_s || form == TimeForm::elapsed_ms ||
         form == TimeForm::elapsed_min || form == TimeForm::elapsed_h || form == TimeForm::elapsed_d;
}

std::variant<StampFormat, std::string> stamp_format(const plan::ChannelMap& map) {
  StampFormat out;
  out.form = map.time_form;
  out.format = map.time_format;
  out.style = NumberStyle{map.decimal_comma ? ',' : '.', '\0'};
  if (needs_zone(map)) {
    if (map.zone.empty()) {
      return "the log's stamps are local time and the channel map states no time zone";
    }
    const auto zone = Zone::find(map.zone);
    if (!zone) return fmt::format("the time zone '{}' is not known on this machine", map.zone);
    out.zone = *zone;
  }
  if (map.time_form == TimeForm::local) {
    const std::string unknown = unknown_field(map.time_format);
    if (!unknown.empty()) return fmt::format("the time format has '{}', which is not known", unknown);
  }
  if (is_elapsed(map.time_form)) {
    if (!map.start) return "the log counts elapsed time and the channel map states no start";
    out.start_ns = map.start->ns;
  }
  if (map.time_form == TimeForm::mjd) out.start_ns = days_from_civil(1858, 11, 17) * ns_per_day;
  return out;
}

std::string describe(const StampFormat& format) {
  switch (format.form) {
    case TimeForm::rfc3339:
      return "RFC 3339 such as 2031-03-04T05:06:07.250Z";
    case TimeForm::local:
      return format.format.empty() ? "local time such as 2031-03-04 05:06:07"
                                   : fmt::format("local time in the form \"{}\"", format.format);
    case TimeForm::epoch_s:
      return "seconds since 1970 such as 1930000000.25";
    case TimeForm::epoch_ms:
      return "milliseconds since 1970 such as 1930000000250";
    case TimeForm::epoch_us:
      return "microseconds since 1970 such as 1930000000250000";
    case TimeForm::epoch_ns:
      return "nanoseconds since 1970 such as 1930000000250000000";
    case TimeForm::spreadsheet_day:
      return "a spreadsheet's day number such as 47911.2126";
    case TimeForm::elapsed_s:
      return "elapsed seconds such as 12.5";
    case TimeForm::elapsed_ms:
      return "elapsed milliseconds such as 12500";
    case TimeForm::elapsed_min:
      return "elapsed minutes such as 0.25";
    case TimeForm::elapsed_h:
      return "elapsed hours such as 0.125";
    case TimeForm::elapsed_d:
      return "elapsed days such as 0.0052";
    case TimeForm::elapsed_clock:
      return "elapsed hours, minutes and seconds such as 26:03:04.5";
    case TimeForm::mjd:
      return "a modified Julian date such as 62929.2126";
    case TimeForm::julian_date:
      return "a Julian date such as 2462929.7126";
  }
  return "";
}

Stamp StampReader::read(std::string_view text) {
  const Stamp stamp = of_any_year(text);
  const bool read = stamp.is == StampIs::unique || stamp.is == StampIs::twice;
  if (read && (stamp.ns < earliest_ns || stamp.ns >= latest_ns)) return {StampIs::far, 0, 0};
  return stamp;
}

Stamp StampReader::of_any_year(std::string_view text) {
  switch (format_->form) {
    case TimeForm::rfc3339:
      return rfc3339(text);
    case TimeForm::local:
      return local(trim(text));
    case TimeForm::spreadsheet_day:
      return spreadsheet(text);
    case TimeForm::elapsed_clock:
      return clock(trim(text));
    case TimeForm::julian_date:
      return julian(trim(text));
    default:
      return counted(text, ns_of_one(format_->form), format_->start_ns);
  }
}

// Neighbours share their minute: only the seconds are read then.
Stamp StampReader::rfc3339(std::string_view text) {
  const std::size_t n = text.size();
  if (n >= 20 && n <= 30 && text[n - 1] == 'Z' && text[16] == ':' &&
      std::memcmp(text.data(), minute_, sizeof minute_) == 0 && is_digit(text[17]) && text[17] < '6' &&
      is_digit(text[18])) {
    std::int64_t ns = ((text[17] - '0') * 10 + (text[18] - '0')) * ns_per_s;
    bool good = n == 20 || (text[19] == '.' && n >= 22);
    std::int64_t scale = ns_per_s;
    for (std::size_t i = 20; i + 1 < n; ++i) {
      good = good && is_digit(text[i]);
      scale /= 10;
      ns += scale * (text[i] - '0');
    }
    if (good) return {StampIs::unique, minute_ns_ + ns, 0};
  }
  Instant instant;
  const std::string_view plain = trim(text);
  if (!from_rfc3339(plain, instant)) return {};
  if (plain.size() >= 20 && plain.back() == 'Z') {
    const std::string minute = std::string(plain.substr(0, 16)) + ":00Z";
    Instant start;
    if (from_rfc3339(minute, start)) {
      std::memcpy(minute_, minute.data(), sizeof minute_);
      minute_ns_ = start.ns;
    }
  }
  return {StampIs::unique, instant.ns, 0};
}

Stamp StampReader::from_local(std::int64_t local_s, std::int64_t ns) {
  const bool known = answer_ && answer_->is == Zone::Answer::Is::unique && local_s >= answer_->from_s &&
                     local_s < answer_->to_s;
  if (!known) {
    answer_ = format_->zone.to_utc(local_s);
    answer_local_s_ = local_s;
  }
  const std::int64_t utc_s = answer_->utc_s + (local_s - answer_local_s_);
  if (answer_->is == Zone::Answer::Is::never) return {StampIs::never, 0, 0};
  if (!fits(utc_s)) return {};
  const bool twice = answer_->is == Zone::Answer::Is::twice;
  return {twice ? StampIs::twice : StampIs::unique, utc_s * ns_per_s + ns,
          twice ? answer_->second_s * ns_per_s + ns : 0};
}

Stamp StampReader::local(std::string_view text) {
  FormatScanner scanner(text);
  bool good = false;
  if (format_->format.empty()) {
    good = scanner.scan("%F %T");
    if (!good) {
      scanner = FormatScanner(text);
      good = scanner.scan("%FT%T");
    }
  } else {
    good = scanner.scan(format_->format);
  }
  std::int64_t seconds = 0;
  if (!good || !scanner.finish(seconds)) return {};
  if (scanner.offset_s()) {
    const std::int64_t utc_s = seconds - *scanner.offset_s();
    return fits(utc_s) ? Stamp{StampIs::unique, utc_s * ns_per_s + scanner.fraction_ns(), 0} : Stamp{};
  }
  return from_local(seconds, scanner.fraction_ns());
}

Stamp StampReader::counted(std::string_view text, std::int64_t ns_per_unit, std::int64_t from_ns) const {
  std::int64_t ns = 0;
  if (!parse_scaled_integer(text, format_->style, ns_per_unit, ns)) return {};
  Stamp stamp{StampIs::unique, 0, 0};
  if (__builtin_add_overflow(ns, from_ns, &stamp.ns)) return {};
  return stamp;
}

// JD = MJD + 2400000.5. From 4714 BC on there are more nanoseconds than 64 bits count, so whole days come
// first.
Stamp StampReader::julian(std::string_view text) const {
  constexpr std::int64_t days_to_mjd = 2'400'000, beyond_all = 10'000'000;
  const std::size_t point = std::min(text.find(format_->style.point), text.size());
  std::int64_t days = 0;
  if (text.find_first_not_of("0123456789") < point ||
      !parse_scaled_integer(text.substr(0, point), {}, 1, days) || days > beyond_all)
    return {};
  std::int64_t part_ns = 0;
  const std::string_view part = text.substr(point);
  if (part.size() > 1 && part.find_first_not_of("0123456789", 1) != std::string_view::npos) return {};
  if (part.size() > 1 && !parse_scaled_integer(part, format_->style, ns_per_day, part_ns)) return {};
  const std::int64_t from_1858 = days - days_to_mjd;
  if (!fits(from_1858 * 86'400)) return {};
  const std::int64_t from_1970 = from_1858 + days_from_civil(1858, 11, 17);
  return {StampIs::unique, from_1970 * ns_per_day + part_ns - ns_per_day / 2, 0};
}

// "26:03:04.5", with days before it "1.02:03:04.5", "1 02:03:04.5" or "1d 02:03:04.5"; minutes and seconds
// below 60 and, behind days, hours below 24.
Stamp StampReader::clock(std::string_view text) const {
  const std::size_t first = text.find_first_not_of("0123456789");
  std::int64_t days = 0;
  if (first != std::string_view::npos && first > 0 && text[first] != ':') {
    if (!parse_scaled_integer(text.substr(0, first), {}, 1, days) || days > 100'000) return {};
    text.remove_prefix(first);
    text.remove_prefix(text.front() == '.' || text.front() == 'd' ? 1 : 0);
    text = trim(text);
  }
  const std::size_t minutes_at = text.find(':');
  if (minutes_at == std::string_view::npos || minutes_at == 0 || minutes_at > 7) return {};
  std::int64_t hours = 0;
  if (!parse_scaled_integer(text.substr(0, minutes_at), {}, 1, hours)) return {};
  if (text.find_first_not_of("0123456789") != minutes_at || (first != minutes_at && hours > 23)) return {};
  FormatScanner rest(text.substr(minutes_at + 1));
  const auto in_hour = rest.scan("%M:%S") ? rest.in_hour_ns() : std::nullopt;
  if (!in_hour) return {};
  Stamp stamp{StampIs::unique, 0, 0};
  const std::int64_t ns = (days * 24 + hours) * 3600 * ns_per_s + *in_hour;
  if (__builtin_add_overflow(ns, format_->start_ns, &stamp.ns)) return {};
  return stamp;
}

// Days since 1899-12-30 on the local clock. A day number carries about a millisecond, so the
// stamp is rounded to that.
Stamp StampReader::spreadsheet(std::string_view text) {
  std::int64_t ms = 0;
  if (!parse_scaled_integer(text, format_->style, 86'400'000, ms) || ms < 0) return {};
  const std::int64_t local_ms = ms + days_from_civil(1899, 12, 30) * 86'400'000;
  std::int64_t local_s = local_ms / 1000;
  std::int64_t rest_ms = local_ms % 1000;
  if (rest_ms < 0) {
    rest_ms += 1000;
    --local_s;
  }
  if (!fits(local_s)) return {};
  return from_local(local_s, rest_ms * 1'000'000);
}

}  // namespace vacuary::log
