// A first channel map for an export that nobody has described yet. Everything that is not stated
// in the export itself is marked CONFIRM, and what only a person can know is left open and marked
// STATE.
#include "log/sketch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "log/layout.hpp"

namespace vacuary::log {
namespace {

std::size_t count_of(const std::string& text, std::string_view mark) {
  std::size_t n = 0;
  for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + mark.size())) ++n;
  return n;
}

std::string without(std::string text, char mark) {
  std::erase(text, mark);
  return text;
}

// What one file of several may not show: with digits and English letters alone it reads in many ways.
struct Marks {
  std::string encoding = "utf-8";
  NumberStyle style;
  std::string comma_or_thousands;
  std::size_t comments = 0;
  std::string preambles;  // whose are of another length than the first file's
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
        quality_(quality_columns(table_)),
        told_(table_.header.size()) {}

  // All rows; nothing is written when they cannot be read.
  Diagnostics look() {
    auto found = survey(file_, form_, table_, time_ ? &*time_ : nullptr, long_ ? &*long_ : nullptr);
    if (!found.has_value()) return found.diagnostics();
    survey_ = std::move(found).value();
    return {};
  }

  [[nodiscard]] std::string name() const { return comment_text(file_.filename().string()); }

  // What another file shows of the order of day and month, if this one reads both ways; false: it shows
  // nothing.
  bool take_order_of_date(const Export& other) {
    if (!time_ || time_->other.empty() || !other.time_ || !other.time_->remark.empty()) return false;
    const std::string& shown = other.time_->format;
    if (shown != time_->format && shown != time_->other) return false;
    time_->format = shown;
    time_->other.clear();
    time_->remark =
        fmt::format("{} first, as {} shows", shown.starts_with("%d") ? "day" : "month", other.name());
    return true;
  }

  // In whatever order.
  [[nodiscard]] bool has_columns_of(const Export& other) const {
    Cells mine = table_.header, others = other.table_.header;
    std::sort(mine.begin(), mine.end());
    std::sort(others.begin(), others.end());
    return mine == others && is_long() == other.is_long();
  }
  // Most of those of the file that has fewer.
  [[nodiscard]] bool has_most_columns_of(const Export& other) const {
    std::size_t shared = 0;
    for (std::size_t i = 0; i < other.table_.header.size(); ++i) shared += column_of(other, i) ? 1U : 0U;
    const std::size_t most = std::min(described(), other.described());
    return shared > 0 && 2 * shared >= most && is_long() == other.is_long();
  }
  // Nothing of the other file was written between the first and the last row of this one, nor the reverse.
  [[nodiscard]] bool is_apart_from(const Export& other) const {
    const auto &a = survey_, &b = other.survey_;
    if (!a.first || !b.first) return false;
    const auto from = [](const Survey& one) { return std::min(*one.first, *one.last); };
    const auto to = [](const Survey& one) { return std::max(*one.first, *one.last); };
    return to(a) <= from(b) || to(b) <= from(a);
  }
  // Of a file that follows this one, or the reverse: each may hold what the others lack, and what one has
  // told of the others need not.
  void take_rows_of(Export& other) {
    if (is_long()) {
      if (!std::exchange(other.is_told_, true)) survey_.add_tags(other.survey_);
      return;
    }
    for (std::size_t i = 0; i < other.table_.header.size(); ++i) {
      const auto place = other.told_[i] ? std::nullopt : column_of(other, i);
      if (!place) continue;
      other.told_[i] = true;
      Content& content = survey_.columns[*place];
      if (table_.header[*place] == other.table_.header[i]) {
        content.add(other.survey_.columns[i]);
      } else {
        content.add_words(other.survey_.columns[i]);
      }
    }
  }

  void reserve_in(ColumnWriter& columns) const {
    for (const Survey::Tag& tag : survey_.tags) columns.reserve(tag.name);
    for (std::size_t i = 0; !long_ && i < table_.header.size(); ++i) columns.reserve(table_.header[i]);
  }
  void add_to(ColumnWriter& columns) const {
    if (is_told_) return;
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
  // The reader finds a header behind a longer or shorter preamble by its names.
  [[nodiscard]] bool has_other_preamble(const Export& other) const {
    const bool found = !table_.newest_first && form_.blanks == 0;
    return found && table_.preamble != other.table_.preamble;
  }
  [[nodiscard]] std::string preamble_remark() const {
    return fmt::format(" {} has {};", name(), table_.preamble);
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
  // A log on change has a cell where a value has changed, and most others are empty.
  [[nodiscard]] std::string mode_line() const {
    constexpr double worth_telling = 0.2, most = 0.5;
    std::size_t columns = 0, sparse = 0;
    double filled = 0, empty = 0;
    for (std::size_t i = 0; i < survey_.filling.size(); ++i) {
      if (survey_.columns[i].numbers == 0 || is_time(i) || is_quality_of_any(i) || !own_times_.empty())
        continue;
      const Filling& each = survey_.filling[i];
      ++columns;
      sparse += each.is_sparse() ? 1U : 0U;
      filled += static_cast<double>(each.filled);
      empty += static_cast<double>(each.empty);
    }
    const double share = empty / std::max(filled + empty, 1.0);
    const std::string said = fmt::format("{:.0f} % of the numbers' cells are empty", 100 * share);
    if (share >= most && 2 * sparse >= columns)
      return "mode = \"on_change\"  # CONFIRM: " + said +
             ", mostly behind each value, as where only\n# what has changed is written. If an empty cell "
             "means "
             "that a reading is missing, it is \"periodic\"\n";
    if (share >= worth_telling)
      return "mode = \"periodic\"  # CONFIRM: " + said +
             ". If an empty cell means \"as before\", it is \"on_change\"\n";
    return "mode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n";
  }
  // How the file is written: one map is for files that agree in it.
  [[nodiscard]] std::string way_of_writing(const Marks& marks) const {
    return file_table(marks) + time_table(table_, time_ ? &*time_ : nullptr, unread_times_);
  }
  [[nodiscard]] std::string long_table() const {
    if (!long_) return "";
    std::string out = "\n[long]\n" +
                      column_line(table_, "channel_column", long_->name_column, "CONFIRM: one value a row") +
                      column_line(table_, "value_column", long_->value_column, "CONFIRM");
    if (long_->unit_column >= 0)
      out += column_line(table_, "unit_column", static_cast<std::size_t>(long_->unit_column),
                         "CONFIRM: each value is read in the unit that stands there");
    if (long_->quality_column >= 0)
      out += column_line(table_, "quality_column", static_cast<std::size_t>(long_->quality_column),
                         "CONFIRM: it says whether the value is good");
    return out;
  }
  [[nodiscard]] std::string logging_table() const {
    const std::string mode = mode_line();
    std::string out = "\n[logging]\n" + mode;
    const bool steady = mode.starts_with("mode = \"periodic\"");
    if (steady && time_ && !long_ && !time_->period.empty())
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
  [[nodiscard]] bool is_time(std::size_t column) const {
    return (time_ && time_->has(column)) ||
           std::find(own_times_.begin(), own_times_.end(), column) != own_times_.end();
  }
  // Columns that are no time.
  [[nodiscard]] std::size_t described() const {
    std::size_t out = 0;
    for (std::size_t i = 0; i < table_.header.size(); ++i) out += is_time(i) ? 0U : 1U;
    return out;
  }
  // Where the column of the other file stands in this one: by its header, as often as it comes; or, if each
  // has one of that name, whatever unit is in its brackets. No time is meant.
  [[nodiscard]] std::optional<std::size_t> column_of(const Export& other, std::size_t column) const {
    const Cells &mine = table_.header, &others = other.table_.header;
    const std::string& header = others[column];
    if (other.is_time(column)) return std::nullopt;
    auto before = std::count(others.begin(), others.begin() + static_cast<std::ptrdiff_t>(column), header);
    for (std::size_t i = 0; i < mine.size(); ++i) {
      if (mine[i] == header && !is_time(i) && before-- == 0) return i;
    }
    const auto is_called = [&](const std::string& each) { return named(each).name == named(header).name; };
    const auto found = std::find_if(mine.begin(), mine.end(), is_called);
    const bool once = std::count_if(mine.begin(), mine.end(), is_called) == 1 &&
                      std::count_if(others.begin(), others.end(), is_called) == 1;
    const auto place = static_cast<std::size_t>(found - mine.begin());
    return once && !is_time(place) ? std::optional(place) : std::nullopt;
  }
  [[nodiscard]] bool is_quality_of_any(std::size_t column) const {
    return std::find(quality_.begin(), quality_.end(), static_cast<int>(column)) != quality_.end();
  }

  [[nodiscard]] std::string file_table(const Marks& marks) const {
    std::string out = "\n[file]\n";
    constexpr const char* blanks[] = {"tab", "space", "two spaces"};
    const std::string delimiter =
        table_.delimiter == '\t' ? blanks[form_.blanks] : std::string(1, table_.delimiter);
    out += fmt::format("delimiter = \"{}\"{}\n", delimiter, form_.blanks > 0 ? "  # CONFIRM" : "");
    if (!marks.comma_or_thousands.empty()) {
      out += fmt::format(
          "# decimal = \",\"  # STATE whether {} is a little more than {}: then take the '#' away; or {}: "
          "then\n# thousands = \",\"  # take this '#' away\n",
          comment_text(toml_text(marks.comma_or_thousands)),
          marks.comma_or_thousands.substr(0, marks.comma_or_thousands.find(',')),
          without(marks.comma_or_thousands, ','));
    } else if (marks.style.point == ',') {
      out += "decimal = \",\"  # CONFIRM\n";
    }
    if (marks.style.thousands != '\0') {
      const std::string mark = marks.style.thousands == ' ' ? "space" : std::string(1, marks.style.thousands);
      out += fmt::format("thousands = \"{}\"  # CONFIRM\n", mark);
    }
    if (marks.encoding != "utf-8") out += fmt::format("encoding = \"{}\"  # CONFIRM\n", marks.encoding);
    if (table_.preamble > 0 || !marks.preambles.empty())
      out += fmt::format("preamble_lines = {}  # CONFIRM{}\n", table_.preamble, marks.preambles);
    const std::size_t footer = time_ ? count_footer(survey_.end, table_, *time_) : 0;
    if (footer > 0) out += fmt::format("footer_lines = {}  # CONFIRM\n", footer);
    if (!table_.units.empty()) out += "units_line = true  # CONFIRM\n";
    if (table_.newest_first) out += "newest_first = true  # CONFIRM\n";
    if (marks.comments > 0)
      out +=
          fmt::format("comment = \"#\"  # CONFIRM: {} lines begin with it and are no rows\n", marks.comments);
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
    std::vector<std::string> bare;
    for (const std::string& header : table_.header) {
      ++names[split_header(header).name];
      bare.push_back(named(header).name);
    }
    const std::vector<Role> roles = roles_of(bare);
    for (std::size_t i = 0; i < table_.header.size(); ++i) {
      if (told_[i] || is_time(i) || is_quality_of_any(i)) continue;
      const auto unread = std::find_if(unread_times_.begin(), unread_times_.end(),
                                       [i](const UnreadTime& each) { return each.column == i; });
      if (unread != unread_times_.end()) {
        columns.add_unread_time(table_.header[i], unread->example);
        continue;
      }
      ColumnGuess guess = named(table_.header[i]);
      guess.whole = names[split_header(guess.header).name] > 1;
      if (guess.unit.empty() && i < table_.units.size()) guess.unit = table_.units[i];
      if (guess.unit.empty() && i < table_.units_above.size() && !table_.units_above[i].empty()) {
        guess.unit = table_.units_above[i];
        guess.unit_from = "line above the names";
      }
      guess.content = survey_.columns[i];
      take_unit_of_cells(guess);
      guess.time = own_time(i);
      if (quality_[i] >= 0) guess.quality = table_.header[static_cast<std::size_t>(quality_[i])];
      guess.number = i + 1;
      guess.role = roles[i];
      columns.add(guess);
    }
  }

  void add_names(ColumnWriter& columns) const {
    std::vector<std::string> bare;
    for (const Survey::Tag& tag : survey_.tags) bare.push_back(named(tag.name).name);
    const std::vector<Role> roles = roles_of(bare);
    for (std::size_t i = 0; i < survey_.tags.size(); ++i) {
      const Survey::Tag& tag = survey_.tags[i];
      if (tag.name.empty()) continue;  // a row of no channel
      ColumnGuess guess = named(tag.name);
      guess.long_form = true;
      guess.role = roles[i];
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
  // What the map says of another file holds for these columns, or for all names of (time, name, value).
  std::vector<bool> told_;
  bool is_told_ = false;
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
  return Export(file, beginning.value().form, std::move(table).value());
}

// All files, their rows looked at with what each shows of the others' dates.
Result<std::vector<Export>> look_at(const std::vector<std::filesystem::path>& files) {
  std::vector<Export> out;
  for (const std::filesystem::path& file : files) {
    auto found = look_at(file);
    if (!found.has_value()) return found.diagnostics();
    out.push_back(std::move(found).value());
  }
  for (Export& one : out) {
    for (const Export& each : out) {
      if (one.take_order_of_date(each)) break;
    }
  }
  for (Export& one : out) {
    if (Diagnostics failed = one.look(); !failed.empty()) return failed;
  }
  return out;
}

// Files that follow each other have the same columns, or most of them and no times in common.
void join_files(std::vector<Export>& exports) {
  std::vector<std::vector<Export*>> runs;
  for (Export& one : exports) {
    const auto run = std::find_if(runs.begin(), runs.end(), [&one](const std::vector<Export*>& files) {
      const auto same = [&one](const Export* each) { return one.has_columns_of(*each); };
      const auto most = [&one](const Export* each) { return one.has_most_columns_of(*each); };
      const auto apart = [&one](const Export* each) { return one.is_apart_from(*each); };
      return std::any_of(files.begin(), files.end(), same) ||
             (std::any_of(files.begin(), files.end(), most) &&
              std::all_of(files.begin(), files.end(), apart));
    });
    if (run == runs.end()) {
      runs.push_back({&one});
      continue;
    }
    for (Export* before : *run) before->take_rows_of(one);
    run->push_back(&one);
  }
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

std::string without_line(std::string lines, std::string_view key) {
  const std::size_t at = lines.find("\n" + std::string(key));
  if (at != std::string::npos) lines.erase(at, lines.find('\n', at + 1) - at);
  return lines;
}

// Files that the map, which is written after the first one, does not fit.
std::string other_ways(const std::vector<Export>& exports, const Marks& marks) {
  const auto way = [](const Export& one, const Marks& with) {
    return one.way_of_writing(with) + one.long_table();
  };
  std::string out;
  for (const Export& one : exports) {
    std::string ways[] = {without_remarks(way(one, marks)), without_remarks(way(exports.front(), marks))};
    if (one.has_other_preamble(exports.front())) {
      for (std::string& each : ways) each = without_line(each, "preamble_lines");
    }
    const bool alike = ways[0] == ways[1];
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
  auto found = look_at(files);
  if (!found.has_value()) return found.diagnostics();
  std::vector<Export> exports = std::move(found).value();
  std::string names, looked_at;
  for (const Export& one : exports) {
    names += (names.empty() ? "" : ", ") + one.name();
    looked_at += one.looked_at(files.size() > 1);
  }
  join_files(exports);
  ColumnWriter columns(plant);
  for (const Export& one : exports) one.reserve_in(columns);
  for (const Export& one : exports) {
    one.add_to(columns);
    columns.next_file();
  }
  const Export& first = exports.front();
  Marks marks;
  for (const Export& one : exports) one.add_to(marks);
  if (!exports.front().reads_with(marks)) {  // what it shows goes before what others do
    marks = Marks{};
    exports.front().add_to(marks);
  }
  for (const Export& one : exports) {
    if (one.has_other_preamble(first))
      marks.preambles += (marks.preambles.empty() ? ":" : "") + one.preamble_remark();
  }
  if (!marks.preambles.empty()) marks.preambles += " its header is found by its names";
  const std::string body = columns.ignored() + good_quality(exports, columns) + first.way_of_writing(marks) +
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
