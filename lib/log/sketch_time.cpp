// Which columns of an unknown export are its time, and how that is written.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "log/layout.hpp"
#include "log/sketch.hpp"
#include "log/stamp.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::size_t rows_to_try = 200;

struct Trial {
  plan::TimeForm form;
  std::string format;
};

// Every date with every time of day, blank or T between. Where day and month could change places
// the day comes first here; the other way is tried too and told.
std::vector<Trial> trials() {
  std::vector<Trial> out = {{plan::TimeForm::rfc3339, ""}};
  const std::array dates = {"%Y-%m-%d", "%Y/%m/%d",  "%Y.%m.%d", "%d-%b-%Y", "%d %b %Y", "%d-%b-%y",
                            "%b %d %Y", "%b %d, %Y", "%d.%m.%Y", "%d.%m.%y", "%d/%m/%Y", "%m/%d/%Y",
                            "%d/%m/%y", "%m/%d/%y",  "%d-%m-%Y", "%m-%d-%Y", "%Y%m%d"};
  const std::array times = {"%H:%M:%S", "%H:%M:%S:%f", "%I:%M:%S %p", "%H:%M:%S %z",
                            "%H.%M.%S", "%H:%M",       "%I:%M %p",    "%H%M%S"};
  for (const char* date : dates) {
    for (const char* between : {" ", "T", ", "}) {
      for (const char* time : times)
        out.push_back({plan::TimeForm::local, std::string(date) + between + time});
    }
  }
  return out;
}

std::optional<std::string> month_first(const std::string& format) {
  if (format.size() < 5 || format.compare(0, 2, "%d") != 0 || format.compare(3, 2, "%m") != 0)
    return std::nullopt;
  return "%m" + format.substr(2, 1) + "%d" + format.substr(5);
}

struct Readings {
  std::size_t tried = 0, read = 0, in_order = 0;
  std::vector<std::int64_t> distances;
  // A line cut or out of order in the beginning must not hide what all others say.
  [[nodiscard]] bool good() const {
    return read > 0 && read * 20 >= tried * 19 && (in_order + 1) * 10 >= read * 9;
  }
};

Readings readings(const Table& table, const Trial& trial, std::size_t column, int date_column) {
  StampFormat format;
  format.form = trial.form;
  format.format = trial.format;
  format.style = {table.style.point, '\0'};
  StampReader reader(format);
  Readings out;
  std::int64_t last = INT64_MIN;
  for (const Cells& row : table.rows) {
    if (out.tried == rows_to_try) break;
    if (++out.tried == 4 && out.read == 0) break;
    std::string text = row[column];
    if (date_column >= 0) text = row[static_cast<std::size_t>(date_column)] + " " + text;
    const Stamp stamp = reader.read(text);
    if (stamp.is == StampIs::unreadable || stamp.is == StampIs::far) continue;
    ++out.read;
    if (stamp.ns >= last) {
      ++out.in_order;
      if (stamp.ns > last && last != INT64_MIN) out.distances.push_back(stamp.ns - last);
    }
    last = stamp.ns;
  }
  return out;
}

std::string usual_distance(std::vector<std::int64_t> distances) {
  if (distances.size() < 4) return "";
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  std::nth_element(distances.begin(), middle, distances.end());
  return say_seconds(*middle);
}

TimeGuess guess_of(const Table& table, const Trial& trial, const Readings& read, std::size_t column,
                   int date) {
  TimeGuess guess;
  guess.column = column;
  guess.date_column = date;
  guess.form = trial.form;
  guess.format = trial.format;
  guess.own_offset = trial.format.find("%z") != std::string::npos;
  guess.period = usual_distance(read.distances);
  if (const auto other = month_first(trial.format)) {
    if (readings(table, {trial.form, *other}, column, date).good())
      guess.remark = "day first; month first reads as well";
  }
  return guess;
}

// Cells of letters and digits that could be a date or a time: most columns are neither, and need
// not be tried with every form.
bool could_be_stamp(const Table& table, std::size_t column) {
  const std::string& cell = table.rows[table.rows.size() / 2][column];
  const auto digits = std::count_if(cell.begin(), cell.end(), [](char c) { return c >= '0' && c <= '9'; });
  const bool parted = cell.find_first_of(":/-") != std::string::npos ||
                      std::count(cell.begin(), cell.end(), '.') == 2 || cell.find(' ') != std::string::npos;
  return digits >= 3 && parted && parse_number(cell, table.style).is != NumberIs::number;
}

template <class F>
bool all_cells(const Table& table, std::size_t column, F is) {
  return std::all_of(table.rows.begin(), table.rows.end(), [&](const Cells& row) { return is(row[column]); });
}

int two_digits(const std::string& text, std::size_t at) {
  return (text[at] - '0') * 10 + (text[at + 1] - '0');
}

std::size_t leading_digits(const std::string& text) {
  return std::min(text.find_first_not_of("0123456789"), text.size());
}

// "20310304", also with the time of day behind it: a number as well, but a date in all rows.
bool is_date_of_digits(const std::string& text) {
  if (leading_digits(text) != text.size() || (text.size() != 8 && text.size() != 14)) return false;
  const int year = two_digits(text, 0) * 100 + two_digits(text, 2);
  const int month = two_digits(text, 4);
  const int day = two_digits(text, 6);
  return year >= 1970 && year < 2150 && month >= 1 && month <= 12 && day >= 1 && day <= 31;
}

// "060058" or "060058.250". With its leading zero lost it reads as another time, so all six are wanted.
bool is_clock_of_digits(const std::string& text) {
  if (leading_digits(text) != 6 || (text.size() > 6 && text[6] != '.' && text[6] != ',')) return false;
  return two_digits(text, 0) < 24 && two_digits(text, 2) < 60 && two_digits(text, 4) < 60;
}

// Numbers that are no count of seconds.
bool holds_digit_stamps(const Table& table, std::size_t column) {
  return all_cells(table, column, is_date_of_digits) || all_cells(table, column, is_clock_of_digits);
}

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return std::tolower(c); });
  return out;
}

bool named_like_time(const std::string& header) {
  const std::string name = lower(header);
  for (const char* word : {"time", "elapsed", "zeit", "tiempo", "temps", "tempo", "stamp", "epoch", "date",
                           "datum", "fecha", "hora", "heure", "uhr"}) {
    if (name.find(word) != std::string::npos) return true;
  }
  return name == "t" || name.starts_with("t [") || name.starts_with("t (") || name.starts_with("t/");
}

// A gauge may show 101325 for hours: six digits are a time of day only under such a name.
bool is_candidate(const Table& table, std::size_t column) {
  if (could_be_stamp(table, column)) return true;
  return all_cells(table, column, is_date_of_digits) ||
         (named_like_time(table.header[column]) && all_cells(table, column, is_clock_of_digits));
}

std::optional<TimeGuess> written_time(const Table& table) {
  static const std::vector<Trial> all = trials();
  std::vector<std::size_t> candidates;
  for (std::size_t column = 0; column < table.header.size() && candidates.size() < 4; ++column) {
    if (is_candidate(table, column)) candidates.push_back(column);
  }
  for (const bool two_columns : {false, true}) {
    for (const std::size_t column : candidates) {
      for (const std::size_t date : two_columns ? candidates : std::vector<std::size_t>{column}) {
        if (two_columns && date == column) continue;
        const int date_column = two_columns ? static_cast<int>(date) : -1;
        for (const Trial& trial : all) {
          const Readings read = readings(table, trial, column, date_column);
          if (read.good()) return guess_of(table, trial, read, column, date_column);
        }
      }
    }
  }
  return std::nullopt;
}

std::optional<plan::TimeForm> counted_form(double value, std::uint8_t decimals) {
  if (value > 9e8 && value < 4e9) return plan::TimeForm::epoch_s;
  if (value > 9e11 && value < 4e12) return plan::TimeForm::epoch_ms;
  if (value > 9e14 && value < 4e15) return plan::TimeForm::epoch_us;
  if (value > 9e17 && value < 4e18) return plan::TimeForm::epoch_ns;
  if (value > 30000 && value < 80000 && decimals > 3) return plan::TimeForm::spreadsheet_day;
  return std::nullopt;
}

std::optional<plan::TimeForm> elapsed_form(double seconds) {
  if (seconds == 1e-3) return plan::TimeForm::elapsed_ms;
  if (seconds == 60) return plan::TimeForm::elapsed_min;
  if (seconds == 3600) return plan::TimeForm::elapsed_h;
  return std::nullopt;
}

// Mostly digits, and parted as dates and times are: "05:06:07", "4/3/31", but not "1.0D-05".
bool has_form_of_time(const std::string& cell) {
  const auto digits = std::count_if(cell.begin(), cell.end(), [](char c) { return c >= '0' && c <= '9'; });
  if (leading_digits(cell) == 0 || 2 * digits < static_cast<std::ptrdiff_t>(cell.size())) return false;
  if (cell.find(':') != std::string::npos) return true;
  constexpr std::string_view marks = "/-.";
  return std::any_of(marks.begin(), marks.end(),
                     [&cell](char mark) { return std::count(cell.begin(), cell.end(), mark) == 2; });
}

// A column of numbers that never fall.
std::optional<TimeGuess> counted_time(const Table& table, std::size_t column) {
  const NumberStyle style{table.style.point, '\0'};
  const ParsedNumber first = parse_number(table.rows.front()[column], style);
  if (first.is != NumberIs::number) return std::nullopt;
  if (holds_digit_stamps(table, column)) return std::nullopt;
  const auto form = counted_form(first.value, first.decimals);
  const bool named = named_like_time(table.header[column]);
  if (!named && (!form || *form == plan::TimeForm::spreadsheet_day)) return std::nullopt;
  const Readings read = readings(table, {form.value_or(plan::TimeForm::elapsed_s), ""}, column, -1);
  if (!read.good()) return std::nullopt;
  if (read.distances.empty() && read.tried > 1) return std::nullopt;  // a day's number stands still
  TimeGuess guess;
  guess.column = column;
  guess.form = form.value_or(plan::TimeForm::elapsed_s);
  guess.period = usual_distance(read.distances);
  if (form) return guess;
  std::string unit = split_header(table.header[column]).unit.value_or("");
  if (unit.empty() && column < table.units.size()) unit = table.units[column];
  const auto parsed = parse_unit(unit, Kind::duration);
  const auto* stated = std::get_if<Unit>(&parsed);
  if (stated == nullptr || stated->factor == 1) return guess;
  if (const auto elapsed = elapsed_form(stated->factor)) {
    guess.form = *elapsed;
    guess.period = usual_distance(readings(table, {*elapsed, ""}, column, -1).distances);
  } else {
    guess.not_read = unit;
    guess.period.clear();
  }
  return guess;
}

// "0:00:07" and on, under a name of time: how long it has been, or a time of day without its date.
std::optional<TimeGuess> clock_time(const Table& table, std::size_t column) {
  const Readings read = readings(table, {plan::TimeForm::elapsed_clock, ""}, column, -1);
  if (!named_like_time(table.header[column]) || !read.good()) return std::nullopt;
  TimeGuess guess;
  guess.column = column;
  guess.form = plan::TimeForm::elapsed_clock;
  guess.period = usual_distance(read.distances);
  return guess;
}

// A cell of a column that seems to hold times, empty if it does not: most cells say so, since one that
// is damaged may look like anything.
std::string time_in(const Table& table, std::size_t column) {
  const bool named = named_like_time(table.header[column]);
  const bool digits = named && holds_digit_stamps(table, column);
  std::vector<std::string> like;
  std::size_t filled = 0;
  for (const Cells& row : table.rows) {
    const std::string& cell = row[column];
    filled += cell.empty() ? 0U : 1U;
    const bool number = parse_number(cell, table.style).is != NumberIs::unreadable;
    if (digits || (!number && (named || has_form_of_time(cell)))) like.push_back(cell);
  }
  return 2 * like.size() > filled ? like[like.size() / 2] : "";
}

}  // namespace

std::optional<TimeGuess> find_time(const Table& table) {
  if (auto guess = written_time(table)) return guess;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (auto guess = counted_time(table, column)) return guess;
  }
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (auto guess = clock_time(table, column)) return guess;
  }
  return std::nullopt;
}

std::vector<std::size_t> own_times(const Table& table, const TimeGuess& time) {
  std::vector<std::size_t> out;
  if (time.date_column >= 0 || !time.not_read.empty()) return out;
  const bool counted = time.form != plan::TimeForm::rfc3339 && time.form != plan::TimeForm::local;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (counted && !named_like_time(table.header[column])) continue;
    if (column != time.column && !readings(table, {time.form, time.format}, column, -1).good()) continue;
    // Two times side by side are of one row.
    if (!out.empty() && out.back() + 1 == column) return {};
    out.push_back(column);
  }
  const bool several = out.size() > 1 && out.front() == time.column && out.back() + 1 < table.header.size();
  return several ? out : std::vector<std::size_t>{};
}

std::vector<UnreadTime> unread_times(const Table& table, const TimeGuess* time) {
  std::vector<UnreadTime> out;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (time != nullptr && (column == time->column || static_cast<int>(column) == time->date_column))
      continue;
    if (plan::parse_channel(split_header(table.header[column]).name)) continue;
    const std::string cell = time_in(table, column);
    if (cell.empty()) continue;
    const bool clock = is_clock_of_digits(cell) || (leading_digits(cell) <= 2 && cell.find(':') <= 2);
    out.push_back({column, cell, clock});
  }
  return out;
}

StampCheck::StampCheck(const Table& table, const TimeGuess& time) : reader_(format_) {
  format_.form = time.form;
  format_.format = time.format;
  format_.style = {table.style.point, '\0'};
}

bool StampCheck::reads(std::string_view date, std::string_view time) {
  const StampIs is = reader_.read(date.empty() ? std::string(time) : fmt::format("{} {}", date, time)).is;
  return is != StampIs::unreadable && is != StampIs::far;
}

std::size_t count_footer(const std::vector<Cells>& end, const Table& table, const TimeGuess& time) {
  constexpr std::size_t most = 20;
  StampCheck check(table, time);
  const auto is_row = [&](const Cells& row) {
    if (row.size() <= time.column || static_cast<int>(row.size()) <= time.date_column) return false;
    const std::string date = time.date_column >= 0 ? row[static_cast<std::size_t>(time.date_column)] : "";
    return check.reads(date, row[time.column]);
  };
  const auto last = std::find_if(end.rbegin(), end.rend(), is_row);
  const auto n = static_cast<std::size_t>(last - end.rbegin());
  if (last == end.rend() || n > most) return 0;
  // A row cut in its stamp is damage, not a footer.
  const bool cut = n == 1 && end.back().size() == 1 && (*last)[0].starts_with(end.back()[0].substr(0, 3));
  return cut ? 0 : n;
}

}  // namespace vacuary::log
