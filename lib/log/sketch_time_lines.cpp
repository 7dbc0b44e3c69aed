// What a sketch says of the time of an export.
#include <fmt/format.h>

#include <algorithm>

#include "log/layout.hpp"
#include "log/sketch.hpp"

namespace vacuary::log {
namespace {

const char* word(plan::TimeForm form) {
  switch (form) {
    case plan::TimeForm::rfc3339:
      return "rfc3339";
    case plan::TimeForm::local:
      return "local";
    case plan::TimeForm::epoch_s:
      return "epoch_s";
    case plan::TimeForm::epoch_ms:
      return "epoch_ms";
    case plan::TimeForm::epoch_us:
      return "epoch_us";
    case plan::TimeForm::epoch_ns:
      return "epoch_ns";
    case plan::TimeForm::spreadsheet_day:
      return "spreadsheet_day";
    case plan::TimeForm::elapsed_s:
      return "elapsed_s";
    case plan::TimeForm::elapsed_ms:
      return "elapsed_ms";
    case plan::TimeForm::elapsed_min:
      return "elapsed_min";
    case plan::TimeForm::elapsed_h:
      return "elapsed_h";
    case plan::TimeForm::elapsed_d:
      return "elapsed_d";
    case plan::TimeForm::elapsed_clock:
      return "elapsed_clock";
    case plan::TimeForm::mjd:
      return "mjd";
    case plan::TimeForm::julian_date:
      return "julian_date";
  }
  return "";
}

// Left out, the time column is the first one, unless another is called "time".
bool found_without_name(const Table& table, const TimeGuess& time) {
  const auto called_time = [](const std::string& header) { return split_header(header).name == "time"; };
  return time.column == 0 && table.header[0].empty() &&
         std::none_of(table.header.begin(), table.header.end(), called_time);
}

// What was seen, for the person who has to find the form or a better export.
std::string no_time_line(const Table& table, const std::vector<UnreadTime>& unread) {
  std::string out = "# column = \"\"  # STATE: no column reads as a time";
  constexpr std::size_t most = 4;
  bool clock = false;
  for (std::size_t i = 0; i < std::min(unread.size(), most); ++i) {
    const UnreadTime& seen = unread[i];
    out += fmt::format("{} \"{}\" holds \"{}\"", i == 0 ? ";" : ",", comment_text(table.header[seen.column]),
                       comment_text(seen.example));
    clock = clock || seen.clock;
  }
  const std::string last = unread.empty() ? "" : unread.front().example;
  const std::size_t letters = last.size() - std::min(last.size(), last.find_last_of("0123456789") + 1);
  if (letters >= 4 && letters <= 6 && letters < last.size() &&
      std::isupper(static_cast<unsigned char>(last.back())) != 0)
    out +=
        "; that name of a zone is not known here, or of several: export the offset, or the time without it";
  if (clock && unread.size() == 1) out += "; a time of day is not read without its date";
  return out + "\n";
}

std::string time_columns(const Table& table, const TimeGuess& time) {
  const std::vector<std::size_t>& parts = time.parts;
  if (parts.size() > 2) {
    std::string names;
    for (const std::size_t part : parts) names += (names.empty() ? "" : ", ") + toml_text(table.header[part]);
    return fmt::format("columns = [{}]  # CONFIRM\n", names);
  }
  const std::string column = found_without_name(table, time)
                                 ? "# column: the first one, which has no name  # CONFIRM\n"
                                 : column_line(table, "column", time.column, "CONFIRM");
  return parts.empty() ? column : column + column_line(table, "date_column", parts.front(), "CONFIRM");
}

}  // namespace

// A column is found by its name. One without a name cannot be named in a map.
std::string column_line(const Table& table, const char* key, std::size_t column, const char* mark) {
  const std::string& header = table.header[column];
  if (!header.empty()) return fmt::format("{} = {}  # {}\n", key, toml_text(header), mark);
  return fmt::format("# {} = \"\"  # STATE: it is column {}, which has no name: write one into the export\n",
                     key, column + 1);
}

std::string time_table(const Table& table, const TimeGuess* guess, const std::vector<UnreadTime>& unread) {
  std::string out = "\n[time]\n";
  if (guess == nullptr) return out + no_time_line(table, unread);
  const TimeGuess& time = *guess;
  out += time_columns(table, time);
  if (!time.not_read.empty()) {
    return out + fmt::format(
                     "# form = \"\"  # STATE: elapsed time in {} is not read; export it in seconds, then "
                     "form = \"elapsed_s\" and start\n",
                     comment_text(time.not_read));
  }
  if (!time.unknown.empty()) {
    out += fmt::format(
        "# form = \"\"  # STATE: the log says \"{}\", which is no unit known here: elapsed_ms, elapsed_s, "
        "elapsed_min, elapsed_h or elapsed_d\n",
        comment_text(time.unknown));
  } else {
    out += fmt::format("form = \"{}\"  # CONFIRM{}\n", word(time.form),
                       time.no_unit ? ": the log does not say in which unit it is" : "");
  }
  if (!time.orders.empty()) {
    out += "# format = \"\"  # STATE in which order day, month and year stand: ";
    for (std::size_t i = 0; i < time.orders.size(); ++i)
      out += (i == 0 ? "" : i + 1 == time.orders.size() ? " or " : ", ") + toml_text(time.orders[i]);
    out += "\n";
  } else if (!time.format.empty()) {
    out += fmt::format("format = {}  # CONFIRM{}{}\n", toml_text(time.format),
                       time.remark.empty() ? "" : ": ", time.remark);
  }
  if (time.own_offset) {
    out += "zone = \"UTC\"  # each stamp carries its own offset\n";
  } else if (time.form == plan::TimeForm::local || time.form == plan::TimeForm::spreadsheet_day) {
    out += "# zone = \"\"  # STATE the clock's time zone, such as \"Europe/Madrid\", or \"UTC\"\n";
  }
  if (time.form == plan::TimeForm::elapsed_clock) {
    out +=
        "# start = \"\"  # STATE when it was 0:00:00, such as \"2031-03-04T05:06:07Z\"; of a time of day "
        "without "
        "its date, midnight of\n# that day on the clock it is from, such as "
        "\"2031-03-04T00:00:00+01:00\"\n";
  } else if (is_elapsed(time.form)) {
    out += "# start = \"\"  # STATE when the elapsed time was zero, such as \"2031-03-04T05:06:07Z\"\n";
  }
  return out;
}

}  // namespace vacuary::log
