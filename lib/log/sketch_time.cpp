// Which columns of an unknown export are its time, and how that is written.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

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

// Every date with every time of day, with what is usual between. Where day and month could change places
// the day comes first here; the other way is tried too and told.
std::vector<Trial> trials() {
  std::vector<Trial> out = {{plan::TimeForm::rfc3339, ""}};
  const std::array dates = {"%Y-%m-%d",    "%Y/%m/%d",     "%Y.%m.%d",    "%d-%b-%Y",     "%d %b %Y",
                            "%d. %b %Y",   "%d-%b-%y",     "%b %d %Y",    "%b %d, %Y",    "%d.%m.%Y",
                            "%d.%m.%y",    "%d/%m/%Y",     "%m/%d/%Y",    "%d/%m/%y",     "%m/%d/%y",
                            "%d-%m-%Y",    "%m-%d-%Y",     "%d-%m-%y",    "%m-%d-%y",     "%y-%m-%d",
                            "%y/%m/%d",    "%y.%m.%d",     "%Y%m%d",      "%Y-%j",        "%d/%b/%Y",
                            "%a %d %b %Y", "%a, %d %b %Y", "%a %d.%m.%Y", "%a, %d.%m.%Y", "%a %d/%m/%Y",
                            "%a %m/%d/%Y", "%a, %d/%m/%Y", "%a, %m/%d/%Y"};
  const std::array times = {"%H:%M:%S", "%H:%M:%S:%f", "%I:%M:%S %p", "%H:%M:%S %z",  "%H.%M.%S", "%H:%M",
                            "%I:%M %p", "%H%M%S",      "%H%M%S%z",    "%H:%M:%S Uhr", "%H:%M Uhr"};
  for (const char* date : dates) {
    for (const char* between : {" ", "T", ", ", "-", "_", ":"}) {
      for (const char* time : times)
        out.push_back({plan::TimeForm::local, std::string(date) + between + time});
    }
  }
  out.push_back({plan::TimeForm::local, "%a %b %d %H:%M:%S %Y"});
  return out;
}

// The format with day, month and year of numbers in every order that is in use; empty: it has none of these.
std::vector<std::string> date_orders(const std::string& format) {
  for (const char mark : {'/', '.', '-'}) {
    const auto order = [mark](char a, char b, char c) {
      return fmt::format("%{}{}%{}{}%{}", a, mark, b, mark, c);
    };
    for (const char year : {'Y', 'y'}) {
      std::vector<std::string> orders = {order('d', 'm', year), order('m', 'd', year)};
      if (year == 'y') orders.push_back(order(year, 'm', 'd'));
      for (const std::string& each : orders) {
        const std::size_t at = format.find(each);
        if (at == std::string::npos) continue;
        const std::size_t length = each.size();
        for (std::string& out : orders) out = std::string(format).replace(at, length, out);
        return orders;
      }
    }
  }
  return {};
}

struct Readings {
  std::size_t tried = 0, read = 0, in_order = 0;
  std::vector<std::int64_t> distances;
  // A line cut or out of order in the beginning must not hide what all others say.
  [[nodiscard]] bool nearly_all() const { return read > 0 && read * 20 >= tried * 19; }
  [[nodiscard]] bool good() const { return nearly_all() && (in_order + 1) * 10 >= read * 9; }
};

// `may_end`: columns with stamps of their own are of different lengths, so the first blank one is their end.
Readings readings(const Table& table, const Trial& trial, const TimeGuess& where, bool may_end = false) {
  StampFormat format;
  format.form = trial.form;
  format.format = trial.format;
  format.style = {table.style.point, '\0'};
  StampReader reader(format);
  Readings out;
  std::int64_t last = INT64_MIN;
  for (const Cells& row : table.rows) {
    if (out.tried == rows_to_try || (may_end && row[where.column].empty())) break;
    if (++out.tried == 4 && out.read == 0) break;
    const Stamp stamp = reader.read(where.stamp([&row](std::size_t i) { return row[i]; }));
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

Readings readings(const Table& table, const Trial& trial, std::size_t column, bool may_end = false) {
  TimeGuess where;
  where.column = column;
  return readings(table, trial, where, may_end);
}

std::string usual_distance(std::vector<std::int64_t> distances) {
  if (distances.size() < 4) return "";
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  std::nth_element(distances.begin(), middle, distances.end());
  return say_seconds(*middle);
}

// How often the stamps go back, or are not as far apart as they usually are.
double unevenness(const Readings& read) {
  std::vector<std::int64_t> distances = read.distances;
  if (distances.empty()) return 1;
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  std::nth_element(distances.begin(), middle, distances.end());
  const std::int64_t usual = *middle;
  const auto odd = std::count_if(distances.begin(), distances.end(),
                                 [usual](std::int64_t d) { return 5 * std::abs(d - usual) > usual; });
  const auto all = static_cast<double>(read.read);
  return (static_cast<double>(read.read - read.in_order) + static_cast<double>(odd)) / all;
}

// The digits behind the seconds, and what parts them from these; none: there are none.
struct Fraction {
  char mark = '\0';
  std::string digits;
};
std::optional<Fraction> fraction_of(const std::string& stamp) {
  const std::size_t colons = static_cast<std::size_t>(std::count(stamp.begin(), stamp.end(), ':'));
  std::size_t at = stamp.find(':');
  if (colons >= 2) at = stamp.find(':', at + 1);
  if (colons < 2) return std::nullopt;
  at = stamp.find_first_of(".,:", at + 1);
  if (at == std::string::npos) return std::nullopt;
  const std::size_t end = std::min(stamp.find_first_not_of("0123456789", at + 1), stamp.size());
  if (end == at + 1) return std::nullopt;
  return Fraction{stamp[at], stamp.substr(at + 1, end - at - 1)};
}

// Some loggers write milliseconds without the zeros before them: 48.7 s for the seventh. Then fractions are
// of different lengths, none of them begins with 0, and as decimals they stumble.
std::optional<Trial> counts_milliseconds(const Table& table, const Trial& trial, const TimeGuess& where,
                                         const Readings& as_decimals) {
  std::set<std::size_t> lengths;
  char mark = '\0', between = 'T';
  bool padded = false;
  for (std::size_t i = 0; i < std::min(table.rows.size(), rows_to_try); ++i) {
    const std::string stamp = where.stamp([&](std::size_t part) { return table.rows[i][part]; });
    const auto fraction = fraction_of(stamp);
    if (!fraction) continue;
    between = stamp[std::min<std::size_t>(10, stamp.size() - 1)];
    lengths.insert(fraction->digits.size());
    padded = padded || (fraction->digits.size() > 1 && fraction->digits.front() == '0');
    mark = fraction->mark;
  }
  if (lengths.size() < 2 || padded || *lengths.rbegin() != 3) return std::nullopt;
  Trial out{plan::TimeForm::local, trial.format};
  if (trial.form == plan::TimeForm::rfc3339) out.format = std::string("%Y-%m-%d") + between + "%H:%M:%S%z";
  if (const std::size_t fraction = out.format.find(":%f"); fraction != std::string::npos)
    out.format.erase(fraction, 3);
  const std::size_t second = out.format.find("%S");
  if (second == std::string::npos) return std::nullopt;
  out.format.insert(second + 2, std::string(1, mark) + "%L");
  const Readings read = readings(table, out, where);
  if (!read.good() || 2 * unevenness(read) >= unevenness(as_decimals)) return std::nullopt;
  return out;
}

TimeGuess guess_of(const Table& table, const Trial& trial, const Readings& read, TimeGuess guess) {
  if (trial.format.find("%L") == std::string::npos) {
    if (const auto counts = counts_milliseconds(table, trial, guess, read)) {
      guess = guess_of(table, *counts, readings(table, *counts, guess), guess);
      const char* said = "milliseconds without zeros before them, so that \".7\" is 0.007 s";
      guess.remark = said + (guess.remark.empty() ? "" : "; " + guess.remark);
      return guess;
    }
  }
  guess.form = trial.form;
  guess.format = trial.format;
  guess.own_offset = trial.format.find("%z") != std::string::npos;
  guess.period = usual_distance(read.distances);
  std::vector<std::string> orders = date_orders(trial.format);
  std::erase_if(orders, [&](const std::string& each) {
    return each != trial.format && !readings(table, {trial.form, each}, guess).good();
  });
  if (orders.size() < 2) return guess;
  if (trial.format.find("%y") != std::string::npos) {
    guess.orders = std::move(orders);
    return guess;
  }
  const bool halves = trial.format.find("%p") != std::string::npos;
  guess.format = orders[halves ? 1 : 0];
  guess.other = orders[halves ? 0 : 1];
  guess.remark = halves ? "month first, as mostly beside AM and PM; day first reads as well"
                        : "day first; month first reads as well";
  return guess;
}

// Cells of letters and digits that could be a date or a time: most columns are neither, and need
// not be tried with every form.
bool could_be_stamp(const std::string& cell, const NumberStyle& style) {
  const auto digits = std::count_if(cell.begin(), cell.end(), [](char c) { return c >= '0' && c <= '9'; });
  const bool parted = cell.find_first_of(":/-") != std::string::npos ||
                      std::count(cell.begin(), cell.end(), '.') == 2 || cell.find(' ') != std::string::npos;
  return digits >= 3 && parted && parse_number(cell, style).is != NumberIs::number;
}

// Between two exports that were put one behind the other the middle row is a header.
bool may_hold_stamps(const Table& table, std::size_t column) {
  for (const std::size_t part : {2U, 3U, 5U}) {
    if (could_be_stamp(table.rows[table.rows.size() / part][column], table.style)) return true;
  }
  return false;
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

// "20310304", also with the time of day behind it: a number as well, but a date in all rows. Or
// "20310304T050607", with or without an offset.
bool is_date_of_digits(const std::string& text) {
  const std::size_t digits = leading_digits(text);
  const bool whole = digits == text.size() && (digits == 8 || digits == 14);
  if (!whole && !(digits == 8 && text.size() >= 15 && text[8] == 'T')) return false;
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

// A gauge may show 101325 for hours: six digits are a time of day only under such a name.
bool is_candidate(const Table& table, std::size_t column) {
  if (may_hold_stamps(table, column)) return true;
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
        TimeGuess where;
        where.column = column;
        if (two_columns) where.parts = {date, column};
        for (const Trial& trial : all) {
          const Readings read = readings(table, trial, where);
          if (read.good() || (read.nearly_all() && counts_milliseconds(table, trial, where, read)))
            return guess_of(table, trial, read, where);
        }
      }
    }
  }
  return std::nullopt;
}

// Year, month and the rest in columns of their own.
std::optional<TimeGuess> parted_time(const Table& table) {
  struct Part {
    const char* field;
    std::vector<std::string> names;
  };
  const std::vector<Part> parts = {
      {"%Y", {"year", "yyyy", "yr", "jahr", "anno", "ano", "a\u00F1o", "ann\u00E9e", "annee"}},
      {"%m", {"month", "mo", "mon", "mm", "monat", "mes", "mois", "mese"}},
      {"%d", {"day", "dd", "tag", "dia", "d\u00EDa", "jour", "giorno"}},
      {"%j", {"doy", "day of year", "dayofyear", "yday", "jday"}},
      {"%H", {"hour", "hours", "hr", "hh", "stunde", "hora", "heure", "ora"}},
      {"%M", {"minute", "minutes", "min", "mi", "minuto", "mm"}},
      {"%S", {"second", "seconds", "sec", "ss", "s", "sekunde", "segundo", "seconde", "secondo"}}};
  TimeGuess where;
  std::string format;
  for (const Part& part : parts) {
    for (std::size_t column = 0; column < table.header.size(); ++column) {
      const std::string name = lower(split_header(table.header[column]).name);
      const bool used = std::find(where.parts.begin(), where.parts.end(), column) != where.parts.end();
      if (used || std::find(part.names.begin(), part.names.end(), name) == part.names.end()) continue;
      where.parts.push_back(column);
      format += (format.empty() ? "" : " ") + std::string(part.field);
      break;
    }
  }
  if (where.parts.size() < 4) return std::nullopt;
  where.column = where.parts.front();
  const Trial trial{plan::TimeForm::local, format};
  const Readings read = readings(table, trial, where);
  if (!read.good()) return std::nullopt;
  return guess_of(table, trial, read, where);
}

// A modified Julian date of these years is a spreadsheet's day of some decades later: only its name tells.
std::optional<plan::TimeForm> counted_form(double value, std::uint8_t decimals, const std::string& header) {
  const std::string name = lower(split_header(header).name);
  if (value > 2'440'000 && value < 2'510'000 && decimals > 2) return plan::TimeForm::julian_date;
  if (value > 40'000 && value < 110'000 && name.find("mjd") != std::string::npos) return plan::TimeForm::mjd;
  if (value > 9e8 && value < 4e9) return plan::TimeForm::epoch_s;
  if (value > 9e11 && value < 4e12) return plan::TimeForm::epoch_ms;
  if (value > 9e14 && value < 4e15) return plan::TimeForm::epoch_us;
  if (value > 9e17 && value < 4e18) return plan::TimeForm::epoch_ns;
  if (value > 30000 && value < 80000 && decimals > 3) return plan::TimeForm::spreadsheet_day;
  return std::nullopt;
}

std::optional<plan::TimeForm> elapsed_form(double seconds) {
  if (seconds == 1) return plan::TimeForm::elapsed_s;
  if (seconds == 1e-3) return plan::TimeForm::elapsed_ms;
  if (seconds == 60) return plan::TimeForm::elapsed_min;
  if (seconds == 3600) return plan::TimeForm::elapsed_h;
  if (seconds == 86'400) return plan::TimeForm::elapsed_d;
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

// Seconds of one; as units are written and as a person says them.
std::optional<double> seconds_of(std::string_view text) {
  struct Word {
    double seconds;
    std::vector<std::string_view> words;
  };
  static const std::vector<Word> all = {
      {1e-3, {"msec", "msecs", "millis", "millisecond", "milliseconds", "millisekunden", "millisecondes"}},
      {1,
       {"sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden", "seconde", "secondes", "segundo",
        "segundos", "secondo", "secondi"}},
      {60, {"mins", "minute", "minutes", "minuten", "minuto", "minutos", "minuti"}},
      {3600,
       {"hr", "hrs", "hour", "hours", "std", "stunde", "stunden", "heure", "heures", "hora", "horas", "ora",
        "ore"}},
      {86'400,
       {"day", "days", "tag", "tage", "jour", "jours", "dia", "dias", "d\u00EDa", "d\u00EDas", "giorno",
        "giorni", "day fraction", "fraction of day", "fraction of a day"}}};
  const auto parsed = parse_unit(text, Kind::duration);
  if (const auto* unit = std::get_if<Unit>(&parsed)) return unit->factor;
  std::string word = lower(text);
  if (word.ends_with('.')) word.pop_back();
  if (word == "min") return 60;
  for (const Word& each : all) {
    if (std::find(each.words.begin(), each.words.end(), word) != each.words.end()) return each.seconds;
  }
  return std::nullopt;
}

// What is said of a count's unit: in brackets, at the end of the header, as "Zeit/min", "time_ms" and
// "elapsed minutes", or in the line of units.
struct SaidUnit {
  std::string text;
  std::optional<double> seconds;
};
SaidUnit unit_of(const Table& table, std::size_t column) {
  const HeaderText header = split_header(table.header[column]);
  if (header.unit && !header.unit->empty()) return {*header.unit, seconds_of(*header.unit)};
  if (column < table.units.size() && !table.units[column].empty()) {
    const std::string text(without_brackets(table.units[column]));
    return {text, seconds_of(text)};
  }
  const std::size_t before = header.name.find_last_of(" _/-,.");
  std::string end = before == std::string::npos ? header.name : header.name.substr(before + 1);
  // A name that is nothing but a unit is one only if it is a whole word: "t", "d" and "h" are no times.
  if (before != std::string::npos || end.size() > 3) {
    if (const auto seconds = seconds_of(end)) return {end, seconds};
  }
  for (const std::string_view word : {"milliseconds", "seconds", "minutes", "hours"}) {
    if (lower(end).ends_with(word)) return {std::string(word), seconds_of(word)};
  }
  return {};
}

bool has_unit_of_something_else(const Table& table, std::size_t column) {
  const SaidUnit unit = unit_of(table, column);
  return !unit.seconds && is_unit(unit.text);
}

// "t_min" and "Minutes" name a time by their unit.
bool named_by_unit(const Table& table, std::size_t column) {
  const std::string name = lower(split_header(table.header[column]).name);
  const SaidUnit unit = unit_of(table, column);
  if (!unit.seconds) return false;
  return name == lower(unit.text) || (name.starts_with('t') && name.size() == unit.text.size() + 2) ||
         (name.starts_with("t, ") && name.size() == unit.text.size() + 3);
}

// A column of numbers that never fall.
std::optional<TimeGuess> counted_time(const Table& table, std::size_t column) {
  const NumberStyle style{table.style.point, '\0'};
  const ParsedNumber first = parse_number(table.rows.front()[column], style);
  if (first.is != NumberIs::number) return std::nullopt;
  if (holds_digit_stamps(table, column)) return std::nullopt;
  const SaidUnit unit = unit_of(table, column);
  auto form = counted_form(first.value, first.decimals, table.header[column]);
  const bool a_day = form == plan::TimeForm::spreadsheet_day || form == plan::TimeForm::julian_date ||
                     form == plan::TimeForm::mjd;
  const bool by_name = !form || (a_day && form != plan::TimeForm::mjd);
  if (a_day && unit.seconds && *unit.seconds != 86'400) form.reset();
  const bool named = named_like_time(table.header[column]) || form == plan::TimeForm::mjd ||
                     lower(split_header(table.header[column]).name) == "jd" || named_by_unit(table, column);
  if (!named && by_name) return std::nullopt;
  if (has_unit_of_something_else(table, column)) return std::nullopt;
  TimeGuess guess;
  guess.column = column;
  guess.form = form.value_or(elapsed_form(unit.seconds.value_or(1)).value_or(plan::TimeForm::elapsed_s));
  const Readings read = readings(table, {guess.form, ""}, column);
  if (!read.good()) return std::nullopt;
  if (read.distances.empty() && read.tried > 1) return std::nullopt;  // a day's number stands still
  if (form || (unit.seconds && elapsed_form(*unit.seconds))) {
    guess.period = usual_distance(read.distances);
  } else if (unit.seconds) {
    guess.not_read = unit.text;
  } else if (!unit.text.empty()) {
    guess.unknown = unit.text;
  } else {
    guess.no_unit = true;
  }
  return guess;
}

// "0:00:07" and on, under a name of time: how long it has been, or a time of day without its date.
std::optional<TimeGuess> clock_time(const Table& table, std::size_t column) {
  const Readings read = readings(table, {plan::TimeForm::elapsed_clock, ""}, column);
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
  if (auto guess = parted_time(table)) return guess;
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
  if (!time.parts.empty() || !time.not_read.empty() || !time.unknown.empty()) return out;
  const bool counted = time.form != plan::TimeForm::rfc3339 && time.form != plan::TimeForm::local;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (counted && !named_like_time(table.header[column])) continue;
    if (column != time.column && !readings(table, {time.form, time.format}, column, true).good()) continue;
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
    if (time != nullptr && time->has(column)) continue;
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

std::optional<Instant> StampCheck::read(std::string_view stamp) {
  const Stamp found = reader_.read(stamp);
  if (found.is == StampIs::unreadable || found.is == StampIs::far) return std::nullopt;
  return Instant{found.ns};
}

std::size_t count_footer(const std::vector<Cells>& end, const Table& table, const TimeGuess& time) {
  constexpr std::size_t most = 20;
  StampCheck check(table, time);
  const auto is_row = [&](const Cells& row) {
    return check.reads(time.stamp([&row](std::size_t i) { return i < row.size() ? row[i] : std::string(); }));
  };
  const auto last = std::find_if(end.rbegin(), end.rend(), is_row);
  const auto n = static_cast<std::size_t>(last - end.rbegin());
  if (last == end.rend() || n > most) return 0;
  // A row cut in its stamp is damage, not a footer.
  const bool cut = n == 1 && end.back().size() == 1 && (*last)[0].starts_with(end.back()[0].substr(0, 3));
  return cut ? 0 : n;
}

}  // namespace vacuary::log
