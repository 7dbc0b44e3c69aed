// A first channel map for an export that nobody has described yet. Everything that is not stated
// in the export itself is marked CONFIRM, and what only a person can know is left open and marked
// STATE.
#include "log/sketch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "log/layout.hpp"

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

std::size_t count_of(const std::string& text, std::string_view mark) {
  std::size_t n = 0;
  for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + mark.size())) ++n;
  return n;
}

// What one file of several may not show: with digits and English letters alone it reads in many ways.
struct Marks {
  std::string encoding = "utf-8";
  NumberStyle style;
  bool comma_or_thousands = false;
  std::size_t comments = 0;
};

// What was seen in one file, and what the map says of it.
class Export {
 public:
  Export(std::filesystem::path file, TextForm form, Table table)
      : file_(std::move(file)),
        form_(std::move(form)),
        table_(std::move(table)),
        time_(find_time(table_)),
        unread_times_(unread_times(table_, time_ ? &*time_ : nullptr)),
        long_(time_ ? find_long_form(table_, *time_) : std::nullopt),
        own_times_(time_ && !long_ ? own_times(table_, *time_) : std::vector<std::size_t>{}),
        quality_(quality_columns(table_)) {}

  // All rows; nothing is written when they cannot be read.
  Diagnostics look() {
    auto found = survey(file_, form_, table_, time_ ? &*time_ : nullptr, long_ ? &*long_ : nullptr);
    if (!found.has_value()) return found.diagnostics();
    survey_ = std::move(found).value();
    return {};
  }

  [[nodiscard]] std::string name() const { return comment_text(file_.filename().string()); }

  // Files that follow each other have the same columns, and each may hold what the others lack.
  [[nodiscard]] bool has_columns_of(const Export& other) const {
    return table_.header == other.table_.header && long_.has_value() == other.long_.has_value();
  }
  void add_rows_of(const Export& other) { survey_.add(other.survey_); }

  void reserve_in(ColumnWriter& columns) const {
    for (const Survey::Tag& tag : survey_.tags) columns.reserve(tag.name);
    for (std::size_t i = 0; !long_ && i < table_.header.size(); ++i) columns.reserve(table_.header[i]);
  }
  void add_to(ColumnWriter& columns) const {
    if (long_) {
      add_names(columns);
    } else {
      add_columns(columns);
    }
  }
  void add_to(Marks& marks) const {
    const NumberStyle usual;
    const bool shows = table_.style.point != usual.point || table_.style.thousands != usual.thousands;
    const bool shown = marks.style.point != usual.point || marks.style.thousands != usual.thousands;
    if (shows && !shown) {
      marks.style = table_.style;
      marks.comma_or_thousands = table_.comma_or_thousands;
    }
    if (marks.encoding == "utf-8") marks.encoding = form_.encoding;
    marks.comments += survey_.comments;
  }
  // Whether it reads the same with these marks as with its own.
  [[nodiscard]] bool reads_with(const Marks& marks) const {
    const auto same_number = [&](const std::string& cell) {
      const ParsedNumber own = parse_number(cell, table_.style);
      const ParsedNumber other = parse_number(cell, marks.style);
      return own.is != NumberIs::number || (other.is == NumberIs::number && other.value == own.value);
    };
    const auto same_text = [&](const std::string& cell) {
      return form_.encoding == marks.encoding ||
             std::none_of(cell.begin(), cell.end(), [](char c) { return (c & 0x80) != 0; });
    };
    const auto all = [](const Cells& cells, const auto& is) {
      return std::all_of(cells.begin(), cells.end(), is);
    };
    return all(table_.header, same_text) && all(table_.units, same_text) &&
           std::all_of(table_.rows.begin(), table_.rows.end(),
                       [&](const Cells& row) { return all(row, same_number) && all(row, same_text); });
  }
  // How the file is written: one map is for files that agree in it.
  [[nodiscard]] std::string way_of_writing(const Marks& marks) const {
    return file_table(marks) + time_table();
  }
  [[nodiscard]] std::string long_table() const {
    if (!long_) return "";
    std::string out = "\n[long]\n" +
                      column_line("channel_column", long_->name_column, "CONFIRM: one value a row") +
                      column_line("value_column", long_->value_column, "CONFIRM");
    if (long_->unit_column >= 0)
      out += column_line("unit_column", static_cast<std::size_t>(long_->unit_column),
                         "CONFIRM: each value is read in the unit that stands there");
    if (long_->quality_column >= 0)
      out += column_line("quality_column", static_cast<std::size_t>(long_->quality_column),
                         "CONFIRM: it says whether the value is good");
    return out;
  }
  [[nodiscard]] std::string logging_table() const {
    std::string out =
        "\n[logging]\nmode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n";
    if (time_ && !long_ && !time_->period.empty())
      out += fmt::format("# period: {} between the first rows; left out, it is found from the log\n",
                         time_->period);
    return out;
  }
  // What stands in the columns that say whether values are good.
  void add_quality_to(std::vector<Content>& all) const {
    for (std::size_t i = 0; !long_ && i < table_.header.size(); ++i) {
      if (is_quality_of_any(i)) all.push_back(survey_.columns[i]);
    }
    if (long_ && long_->quality_column >= 0) all.push_back(survey_.quality);
  }
  [[nodiscard]] bool is_long() const { return long_.has_value(); }
  // The guesses hold for these rows and no others.
  [[nodiscard]] std::string looked_at(bool of_several) const {
    std::string out = fmt::format("# Looked at{}: {} rows", of_several ? " in " + name() : "", survey_.rows);
    const Effort effort;
    const std::size_t piece = effort.piece >> 20U;
    if (survey_.pieces) {
      out += fmt::format(
          ", all of the first {0} MiB and {1} MiB of every {2} behind them: texts and tags that come only "
          "between these are missing",
          effort.thorough * piece, piece, effort.of * piece);
    } else {
      out += survey_.ended_early ? ", up to where the file is damaged" : ", all there are";
    }
    if (survey_.more_tags) out += fmt::format("; of more than {} names only these", survey_.tags.size());
    return out + ".\n";
  }

 private:
  [[nodiscard]] bool is_quality_of_any(std::size_t column) const {
    return std::find(quality_.begin(), quality_.end(), static_cast<int>(column)) != quality_.end();
  }

  [[nodiscard]] std::string file_table(const Marks& marks) const {
    std::string out = "\n[file]\n";
    constexpr const char* blanks[] = {"tab", "space", "two spaces"};
    const std::string delimiter =
        table_.delimiter == '\t' ? blanks[form_.blanks] : std::string(1, table_.delimiter);
    out += fmt::format("delimiter = \"{}\"{}\n", delimiter, form_.blanks > 0 ? "  # CONFIRM" : "");
    if (marks.style.point == ',') {
      out += marks.comma_or_thousands
                 ? "decimal = \",\"  # CONFIRM: all numbers read with thousands = \",\" as well\n"
                 : "decimal = \",\"  # CONFIRM\n";
    }
    if (marks.style.thousands != '\0') {
      const std::string mark = marks.style.thousands == ' ' ? "space" : std::string(1, marks.style.thousands);
      out += fmt::format("thousands = \"{}\"  # CONFIRM\n", mark);
    }
    if (marks.encoding != "utf-8") out += fmt::format("encoding = \"{}\"  # CONFIRM\n", marks.encoding);
    if (table_.preamble > 0) out += fmt::format("preamble_lines = {}  # CONFIRM\n", table_.preamble);
    const std::size_t footer = time_ ? count_footer(survey_.end, table_, *time_) : 0;
    if (footer > 0) out += fmt::format("footer_lines = {}  # CONFIRM\n", footer);
    if (!table_.units.empty()) out += "units_line = true  # CONFIRM\n";
    if (table_.newest_first) out += "newest_first = true  # CONFIRM\n";
    if (marks.comments > 0)
      out +=
          fmt::format("comment = \"#\"  # CONFIRM: {} lines begin with it and are no rows\n", marks.comments);
    return out;
  }

  // A column is found by its name. One without a name cannot be named in a map.
  [[nodiscard]] std::string column_line(const char* key, std::size_t column, const char* mark) const {
    const std::string& header = table_.header[column];
    if (!header.empty()) return fmt::format("{} = {}  # {}\n", key, toml_text(header), mark);
    return fmt::format(
        "# {} = \"\"  # STATE: it is column {}, which has no name: write one into the export\n", key,
        column + 1);
  }

  // Left out, the time column is the first one, unless another is called "time".
  [[nodiscard]] bool found_without_name() const {
    const auto called_time = [](const std::string& header) { return split_header(header).name == "time"; };
    return time_->column == 0 && table_.header[0].empty() &&
           std::none_of(table_.header.begin(), table_.header.end(), called_time);
  }

  // What was seen, for the person who has to find the form or a better export.
  [[nodiscard]] std::string no_time_line() const {
    std::string out = "# column = \"\"  # STATE: no column reads as a time";
    constexpr std::size_t most = 4;
    bool clock = false;
    for (std::size_t i = 0; i < std::min(unread_times_.size(), most); ++i) {
      const UnreadTime& seen = unread_times_[i];
      out += fmt::format("{} \"{}\" holds \"{}\"", i == 0 ? ";" : ",",
                         comment_text(table_.header[seen.column]), comment_text(seen.example));
      clock = clock || seen.clock;
    }
    if (clock && unread_times_.size() == 1) out += "; a time of day is not read without its date";
    return out + "\n";
  }

  [[nodiscard]] std::string time_columns() const {
    const std::vector<std::size_t>& parts = time_->parts;
    if (parts.size() > 2) {
      std::string names;
      for (const std::size_t part : parts)
        names += (names.empty() ? "" : ", ") + toml_text(table_.header[part]);
      return fmt::format("columns = [{}]  # CONFIRM\n", names);
    }
    const std::string column = found_without_name()
                                   ? "# column: the first one, which has no name  # CONFIRM\n"
                                   : column_line("column", time_->column, "CONFIRM");
    return parts.empty() ? column : column + column_line("date_column", parts.front(), "CONFIRM");
  }

  [[nodiscard]] std::string time_table() const {
    std::string out = "\n[time]\n";
    if (!time_) return out + no_time_line();
    out += time_columns();
    if (!time_->not_read.empty()) {
      return out + fmt::format(
                       "# form = \"\"  # STATE: elapsed time in {} is not read; export it in seconds, then "
                       "form = \"elapsed_s\" and start\n",
                       comment_text(time_->not_read));
    }
    out += fmt::format("form = \"{}\"  # CONFIRM\n", word(time_->form));
    if (!time_->format.empty()) {
      out += fmt::format("format = {}  # CONFIRM{}{}\n", toml_text(time_->format),
                         time_->remark.empty() ? "" : ": ", time_->remark);
    }
    if (time_->own_offset) {
      out += "zone = \"UTC\"  # each stamp carries its own offset\n";
    } else if (time_->form == plan::TimeForm::local || time_->form == plan::TimeForm::spreadsheet_day) {
      out += "# zone = \"\"  # STATE the clock's time zone, such as \"Europe/Madrid\", or \"UTC\"\n";
    }
    if (time_->form == plan::TimeForm::elapsed_clock) {
      out +=
          "# start = \"\"  # STATE when it was 0:00:00, such as \"2031-03-04T05:06:07Z\"; of a time of day "
          "without "
          "its date, midnight of\n# that day on the clock it is from, such as "
          "\"2031-03-04T00:00:00+01:00\"\n";
    } else if (is_elapsed(time_->form)) {
      out += "# start = \"\"  # STATE when the elapsed time was zero, such as \"2031-03-04T05:06:07Z\"\n";
    }
    return out;
  }

  // What stands in brackets at the end of a header is its unit, or a part of its name.
  [[nodiscard]] static ColumnGuess named(const std::string& text) {
    ColumnGuess guess;
    const HeaderText header = split_header(text);
    const bool split = header.unit && (is_unit(*header.unit) || text.back() == ']');
    guess.header = text;
    guess.name = split ? header.name : text;
    guess.unit = split ? *header.unit : "";
    return guess;
  }

  // The header of the time column before it; empty: the log's own.
  [[nodiscard]] std::string own_time(std::size_t column) const {
    std::string out;
    for (const std::size_t time : own_times_) {
      if (time < column) out = table_.header[time];
    }
    return out;
  }

  // "5 mbar" says more than a header without a unit.
  static void take_unit_of_cells(ColumnGuess& guess) {
    const std::vector<std::string>& units = guess.content.units;
    if (!guess.unit.empty() || units.empty()) return;
    guess.unit = units.front();
    guess.unit_from = "cells";
    if (units.size() > 1) guess.other_unit = units[1];
  }

  void add_columns(ColumnWriter& columns) const {
    std::map<std::string, std::size_t> names;
    for (const std::string& header : table_.header) ++names[split_header(header).name];
    for (std::size_t i = 0; i < table_.header.size(); ++i) {
      if (time_ && time_->has(i)) continue;
      if (std::find(own_times_.begin(), own_times_.end(), i) != own_times_.end()) continue;
      if (is_quality_of_any(i)) continue;
      const auto unread = std::find_if(unread_times_.begin(), unread_times_.end(),
                                       [i](const UnreadTime& each) { return each.column == i; });
      if (unread != unread_times_.end()) {
        columns.add_unread_time(table_.header[i], unread->example);
        continue;
      }
      ColumnGuess guess = named(table_.header[i]);
      guess.whole = names[split_header(guess.header).name] > 1;
      if (guess.unit.empty() && i < table_.units.size()) guess.unit = table_.units[i];
      guess.content = survey_.columns[i];
      take_unit_of_cells(guess);
      guess.time = own_time(i);
      if (quality_[i] >= 0) guess.quality = table_.header[static_cast<std::size_t>(quality_[i])];
      guess.number = i + 1;
      columns.add(guess);
    }
  }

  void add_names(ColumnWriter& columns) const {
    for (const Survey::Tag& tag : survey_.tags) {
      if (tag.name.empty()) continue;  // a row of no channel
      ColumnGuess guess = named(tag.name);
      guess.long_form = true;
      if (guess.unit.empty() && !tag.units.empty()) {
        guess.unit = tag.units.front();
        guess.unit_from = "column of units";
      }
      if (tag.units.size() > 1) guess.other_unit = tag.units[1];
      guess.content = tag.content;
      take_unit_of_cells(guess);
      columns.add(guess);
    }
  }

  std::filesystem::path file_;
  TextForm form_;
  Table table_;
  std::optional<TimeGuess> time_;
  std::vector<UnreadTime> unread_times_;
  std::optional<LongGuess> long_;
  std::vector<std::size_t> own_times_;
  std::vector<int> quality_;  // by column
  Survey survey_;
};

Result<Export> look_at(const std::filesystem::path& file) {
  auto beginning = read_beginning(file);
  if (!beginning.has_value()) return beginning.diagnostics();
  auto table = find_table(file, beginning.value());
  if (!table.has_value()) return table.diagnostics();
  if (!find_time(table.value())) {
    Table turned = table.value();
    std::reverse(turned.rows.begin(), turned.rows.end());
    turned.newest_first = find_time(turned).has_value();
    if (turned.newest_first) table.value() = std::move(turned);
  }
  Export out(file, beginning.value().form, std::move(table).value());
  if (Diagnostics failed = out.look(); !failed.empty()) return failed;
  return out;
}

std::string ignored(const ColumnWriter& columns) {
  if (columns.ignored().empty()) return "";
  std::string names;
  for (const std::string& name : columns.ignored()) names += (names.empty() ? "" : ", ") + toml_text(name);
  return "ignore = [" + names + "]  # CONFIRM: nothing shows what these are\n";
}

std::string good_quality(const std::vector<Export>& exports, const ColumnWriter& columns) {
  std::vector<Content> all;
  for (const Export& one : exports) one.add_quality_to(all);
  if (all.empty()) return "";
  // It is nothing without a column that has one.
  const bool used = exports.front().is_long() || columns.columns().find("\nquality = ") != std::string::npos;
  const std::string line = good_quality_line(all);
  return used || line.front() == '#' ? line : "# " + line;
}

std::string as_comment(std::string_view lines) {
  std::string out;
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n'), lines.size() - 1) + 1;
    if (end > 1) out += fmt::format("#   {}", lines.substr(0, end));
    lines.remove_prefix(end);
  }
  return out;
}

std::string without_remarks(const std::string& lines) {
  std::string out;
  for (std::size_t at = 0; at < lines.size();) {
    const std::size_t end = std::min(lines.find('\n', at), lines.size());
    out += lines.substr(at, std::min(lines.find("  # ", at), end) - at) + "\n";
    at = end + 1;
  }
  return out;
}

// Files that the map, which is written after the first one, does not fit.
std::string other_ways(const std::vector<Export>& exports, const Marks& marks) {
  const auto way = [](const Export& one, const Marks& with) {
    return one.way_of_writing(with) + one.long_table();
  };
  std::string out;
  for (const Export& one : exports) {
    const bool alike = without_remarks(way(one, marks)) == without_remarks(way(exports.front(), marks));
    if (alike && one.reads_with(marks)) continue;
    Marks own;
    one.add_to(own);
    out += fmt::format(
        "\n# STATE: {} is written in another way than {}, and a map is for files that are written alike:\n"
        "# export both alike. By itself it would have\n{}",
        one.name(), exports.front().name(), as_comment(way(one, own)));
  }
  return out;
}

}  // namespace

Result<Sketch> sketch_map(const std::vector<std::filesystem::path>& files, const plan::Plan* plant) {
  if (files.empty()) return log_failure("", "no log file was named", "name the plant's export");
  std::vector<Export> exports;
  std::string names, looked_at;
  for (const std::filesystem::path& file : files) {
    auto found = look_at(file);
    if (!found.has_value()) return found.diagnostics();
    const Export& one = exports.emplace_back(std::move(found).value());
    names += (names.empty() ? "" : ", ") + one.name();
    looked_at += one.looked_at(files.size() > 1);
  }
  ColumnWriter columns(plant);
  std::vector<bool> follows(exports.size());
  for (std::size_t i = 0; i < exports.size(); ++i) {
    for (std::size_t j = 0; j < i && !follows[i]; ++j) {
      follows[i] = !follows[j] && exports[i].has_columns_of(exports[j]);
      if (follows[i]) exports[j].add_rows_of(exports[i]);
    }
  }
  for (const Export& one : exports) one.reserve_in(columns);
  for (std::size_t i = 0; i < exports.size(); ++i) {
    if (!follows[i]) exports[i].add_to(columns);
  }
  const Export& first = exports.front();
  Marks marks;
  for (const Export& one : exports) one.add_to(marks);
  if (!exports.front().reads_with(marks)) {  // what it shows goes before what others do
    marks = Marks{};
    exports.front().add_to(marks);
  }
  const std::string body = ignored(columns) + good_quality(exports, columns) + first.way_of_writing(marks) +
                           first.logging_table() + first.long_table() + other_ways(exports, marks) +
                           columns.steps() + columns.columns();
  Sketch out;
  out.to_confirm = count_of(body, "# CONFIRM");
  out.to_state = count_of(body, "# STATE");
  out.map =
      fmt::format(
          "# First channel map for {}.\n# CONFIRM marks a guess, STATE what only a person can know.\n{}\n"
          "format = \"vacuary-channels 1\"\n",
          names, looked_at) +
      body;
  return out;
}

}  // namespace vacuary::log
