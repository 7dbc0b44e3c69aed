// Channels: what a log's columns are called inside vacuary, and the map from any plant's export.
//
// A channel is named "<device>.<what>", the device by its name in the chamber file:
//   <gauge>.pressure        one gauge's reading as its display gives it
//   chamber.pressure        the best account of the true total pressure (spliced from the gauges
//                           when the log has no such column)
//   <gas line>.flow   <supply>.power .voltage .current .energy .arcs
//   <cathode>.open          how far its shutter is open, 0 to 1     (ratio, or a state text)
//   optic.angle  optic.speed  optic.index                          (index: pulse per turn, 0 or 1)
//   <crystal>.frequency     a quartz crystal's, loaded as it is
//   <place>.temperature     any name                                (kelvin inside)
//   <device>.state  <device>.alarm                                  (text)
//   run.step                                                        (text: the step's name)
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "plan/plan.hpp"

namespace vacuary::plan {

enum class What : std::uint8_t {
  pressure,
  flow,
  power,
  voltage,
  current,
  energy,
  arcs,
  open,
  angle,
  speed,
  index,
  temperature,
  frequency,
  state,
  alarm,
  step
};
[[nodiscard]] const char* name(What what);
[[nodiscard]] std::optional<What> what_of(const std::string& text);
[[nodiscard]] Kind kind_of(What what);  // unit kind of a numeric channel; arcs, index: count
[[nodiscard]] bool is_text(What what);

struct Channel {
  std::string device;
  What what = What::pressure;
  [[nodiscard]] std::string name() const;  // "argon.flow"
  friend auto operator<=>(const Channel&, const Channel&) = default;
};
[[nodiscard]] std::optional<Channel> parse_channel(const std::string& text);

enum class Logging { periodic, on_change };
enum class TimeForm {
  rfc3339,
  local,
  epoch_s,
  epoch_ms,
  epoch_us,
  epoch_ns,
  spreadsheet_day,
  elapsed_s,
  elapsed_ms,
  elapsed_min,
  elapsed_h,
  elapsed_d,
  elapsed_clock,
  mjd,
  julian_date
};

// How one column becomes a channel.
struct Column {
  GivenText header;  // the column's header text, exactly (without unit brackets if any)
  std::string time;  // header of the time column of its own; empty: the log's
  Channel channel;
  Region channel_at;
  std::optional<Unit> unit;  // as logged; missing: from the header, else asked for
  Region unit_at;
  double gain = 1, offset_si = 0;  // value_si = gain * SI(cell) + offset
  struct Logarithmic {
    double a = 1, b = 0;
    Unit unit;
  };
  std::optional<Logarithmic> logarithmic;  // value = 10^(a U + b) in `unit`
  std::vector<double> bad_values;          // cells that mean "no value", compared with the raw number
  std::vector<std::string> bad_texts;
  std::string quality;              // header of the column that says whether its values are good; empty: none
  std::optional<double> overrange;  // raw number at or beyond which the device is saturated
  std::map<std::string, double> states;  // text to number, for open/index given as words
};

// chamber.pressure from several gauges: each used between its bounds, true pressure.
struct Splice {
  GivenText gauge;
  Pressure low{}, high{};
  Region at;
};

struct ChannelMap {
  std::optional<File> file;  // none: built from `name [unit]` headers
  char delimiter = ',';      // ',', ';', '\t' or '|'; '\0': found from the header
  unsigned blanks = 0;       // not 0: so many blanks or more, or a tab, part cells; delimiter is '\t' then
  bool decimal_comma = false;
  char thousands = '\0';
  std::string encoding = "utf-8";  // utf-8, utf-16, latin-1
  unsigned preamble_lines = 0;
  unsigned footer_lines = 0;
  bool units_line = false;    // units stand in the line after the header
  bool newest_first = false;  // the newest row is the first
  char comment = '\0';        // begins lines that are no rows; '\0': none are
  std::string time_column;    // empty: the first column
  std::string date_column;    // when date and time are two columns
  // Instead of these: the columns whose cells, with blanks between them, are the time.
  std::vector<std::string> time_columns;
  TimeForm time_form = TimeForm::rfc3339;
  std::string time_format;       // TimeForm::local: strptime-like, "%d-%b-%Y %H:%M:%S"
  std::string zone;              // IANA name for local time; empty: UTC is stated explicitly as "UTC"
  std::optional<Instant> start;  // elapsed forms
  Logging logging = Logging::periodic;
  std::optional<Duration> period;  // periodic: expected distance of rows; none: found from the log
  struct StepPeriod {
    StepKind kind = StepKind::hold;
    Duration period{};
  };
  std::vector<StepPeriod> step_periods;  // a plant that logs faster while coating
  bool long_form = false;                // rows of (time, channel, value)
  std::string long_channel_column, long_value_column;
  std::vector<Column> columns;
  std::vector<GivenText> ignore;    // headers that are known and not wanted
  std::string long_quality_column;  // of rows of (time, channel, value); empty: none
  std::string long_unit_column;     // the same: says what unit a row's value has; empty: none
  std::vector<std::string>
      good_quality;  // what the cells of quality columns say of good values; all else is bad
  std::vector<Splice> splice;
  std::string step_column;                        // header of the step column, if any
  std::string step_time;                          // of its own time column; empty: the log's
  std::map<std::string, std::string> step_names;  // log's step text to the recipe's step name
};

// Loads channels.toml and checks its devices against the chamber.
[[nodiscard]] Result<ChannelMap> load_channels(const std::filesystem::path& path, const Plan& plan,
                                               const ReadSource& read = read_from_disk);

}  // namespace vacuary::plan
