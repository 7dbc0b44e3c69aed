// Time stamps of any export to instants.
//
// Formats (ChannelMap::time_format, for TimeForm::local) are strptime-like:
//   %Y year  %y two-digit year (69..99: 19xx)  %m month  %d or %e day  %b or %B month name (stamp.cpp)
//   %H hour  %I hour of twelve  %p AM or PM, also "a.m."  %M minute  %S second with or without a fraction
//   %f fraction alone  %L milliseconds, with or without zeros before them: "7" is 0.007 s  %j day of the year
//   %a or %A day name (not checked)  %% itself %z offset: "+01:00", "+0100", "+01", "Z", "UTC" or "GMT" %F =
//   %Y-%m-%d  %T = %H:%M:%S; a blank stands for any number of blanks, also none
// One or two digits are taken wherever two are usual. An empty format is "%Y-%m-%d %H:%M:%S" with
// "T" or a blank between. Fractions beyond nanoseconds are cut.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "log/number.hpp"
#include "log/zone.hpp"
#include "plan/channel.hpp"

namespace vacuary::log {

struct StampFormat {
  plan::TimeForm form = plan::TimeForm::rfc3339;
  std::string format;
  Zone zone;
  std::int64_t start_ns = 0;  // where a count begins
  NumberStyle style;
};

// A time in several columns, in the order of `parts`: their cells with blanks between them.
template <class F>
[[nodiscard]] std::string joined_stamp(const std::vector<std::size_t>& parts, F cell) {
  std::string out;
  for (const std::size_t part : parts) {
    if (!out.empty()) out += ' ';
    out += cell(part);
  }
  return out;
}

// Counted from ChannelMap::start.
[[nodiscard]] bool is_elapsed(plan::TimeForm form);

// What the one of a count is in nanoseconds; 0: the form is no count.
[[nodiscard]] std::int64_t ns_of_one(plan::TimeForm form);

// What the map says about time; text: why it cannot be used.
[[nodiscard]] std::variant<StampFormat, std::string> stamp_format(const plan::ChannelMap& map);

// What is expected, for messages: "RFC 3339 such as 2031-03-04T05:06:07.250Z".
[[nodiscard]] std::string describe(const StampFormat& format);

enum class StampIs : std::uint8_t {
  unique,
  twice,  // in the hour that the zone's clocks repeat: `second` is the later reading
  never,  // in the hour that the zone's clocks skip
  far,    // outside of the years that a log's stamps may be of
  unreadable
};

// Every sum and difference of such stamps, and of a clock's being a century wrong, fits into nanoseconds.
inline constexpr std::int64_t earliest_ns = 0;                        // 1970
inline constexpr std::int64_t latest_ns = 5'680'281'600'000'000'000;  // 2150
inline constexpr std::int64_t century_ns = 3'155'760'000'000'000'000;
inline constexpr std::int64_t year_ns = century_ns / 100;

struct Stamp {
  StampIs is = StampIs::unreadable;
  std::int64_t ns = 0, second_ns = 0;
};

// Reads one stamp after another; what neighbours have in common is kept. One for each thread.
class StampReader {
 public:
  explicit StampReader(const StampFormat& format) : format_(&format) {}
  [[nodiscard]] Stamp read(std::string_view text);

 private:
  [[nodiscard]] Stamp of_any_year(std::string_view text);
  [[nodiscard]] Stamp rfc3339(std::string_view text);
  [[nodiscard]] Stamp from_local(std::int64_t local_s, std::int64_t ns);
  [[nodiscard]] Stamp local(std::string_view text);
  [[nodiscard]] Stamp counted(std::string_view text, std::int64_t ns_per_unit, std::int64_t from_ns) const;
  [[nodiscard]] Stamp spreadsheet(std::string_view text);
  [[nodiscard]] Stamp clock(std::string_view text) const;
  [[nodiscard]] Stamp julian(std::string_view text) const;

  const StampFormat* format_;
  char minute_[16] = {};  // "2031-03-04T05:06" of the last RFC 3339 stamp in UTC
  std::int64_t minute_ns_ = 0;
  std::optional<Zone::Answer> answer_;
  std::int64_t answer_local_s_ = 0;
};

}  // namespace vacuary::log
