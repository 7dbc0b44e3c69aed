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
    case plan::TimeForm::elapsed_clock:
      return "elapsed_clock";
  }
  return "";
}

std::size_t count_of(const std::string& text, std::string_view mark) {
  std::size_t n = 0;
  for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + mark.size())) ++n;
  return n;
}

class MapWriter {
 public:
  MapWriter(const Table& table, const std::filesystem::path& file, TextForm form, const plan::Plan* plant)
      : table_(table),
        file_(file),
        form_(std::move(form)),
        time_(find_time(table)),
        unread_times_(unread_times(table, time_ ? &*time_ : nullptr)),
        long_(time_ ? find_long_form(table, *time_) : std::nullopt),
        own_times_(time_ && !long_ ? own_times(table, *time_) : std::vector<std::size_t>{}),
        quality_(quality_columns(table)),
        columns_(plant) {}

  // All rows; nothing is written when they cannot be read.
  Diagnostics look() {
    auto found = survey(file_, form_, table_, time_ ? &*time_ : nullptr, long_ ? &*long_ : nullptr);
    if (!found.has_value()) return found.diagnostics();
    survey_ = std::move(found).value();
    return {};
  }

  Sketch write() {
    if (long_) {
      add_names();
    } else {
      add_columns();
    }
    std::string body = ignored() + good_quality() + file_table() + time_table() + logging_table();
    if (long_) {
      body += "\n[long]\n" + column_line("channel_column", long_->name_column, "CONFIRM: one value a row") +
              column_line("value_column", long_->value_column, "CONFIRM");
      if (long_->quality_column >= 0)
        body += column_line("quality_column", static_cast<std::size_t>(long_->quality_column),
                            "CONFIRM: it says whether the value is good");
    }
    body += columns_.steps() + columns_.columns();
    Sketch out;
    out.to_confirm = count_of(body, "# CONFIRM");
    out.to_state = count_of(body, "# STATE");
    out.map =
        fmt::format(
            "# First channel map for {}.\n# CONFIRM marks a guess, STATE what only a person can know.\n{}\n"
            "format = \"vacuary-channels 1\"\n",
            comment_text(file_.filename().string()), looked_at()) +
        body;
    return out;
  }

 private:
  // The guesses hold for these rows and no others.
  [[nodiscard]] std::string looked_at() const {
    std::string out = fmt::format("# Looked at: {} rows", survey_.rows);
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

  [[nodiscard]] std::string ignored() const {
    if (columns_.ignored().empty()) return "";
    std::string names;
    for (const std::string& name : columns_.ignored()) names += (names.empty() ? "" : ", ") + toml_text(name);
    return "ignore = [" + names + "]  # CONFIRM: nothing shows what these are\n";
  }

  [[nodiscard]] bool is_quality_of_any(std::size_t column) const {
    return std::find(quality_.begin(), quality_.end(), static_cast<int>(column)) != quality_.end();
  }

  // What stands in the columns that say whether values are good.
  [[nodiscard]] std::string good_quality() const {
    std::vector<Content> all;
    for (std::size_t i = 0; !long_ && i < table_.header.size(); ++i) {
      if (is_quality_of_any(i)) all.push_back(survey_.columns[i]);
    }
    if (long_ && long_->quality_column >= 0) all.push_back(survey_.quality);
    if (all.empty()) return "";
    // It is nothing without a column that has one.
    const bool used = long_ || columns_.columns().find("\nquality = ") != std::string::npos;
    const std::string line = good_quality_line(all);
    return used || line.front() == '#' ? line : "# " + line;
  }

  [[nodiscard]] std::string file_table() const {
    std::string out = "\n[file]\n";
    constexpr const char* blanks[] = {"tab", "space", "two spaces"};
    const std::string delimiter =
        table_.delimiter == '\t' ? blanks[form_.blanks] : std::string(1, table_.delimiter);
    out += fmt::format("delimiter = \"{}\"{}\n", delimiter, form_.blanks > 0 ? "  # CONFIRM" : "");
    if (table_.style.point == ',') {
      out += table_.comma_or_thousands
                 ? "decimal = \",\"  # CONFIRM: all numbers read with thousands = \",\" as well\n"
                 : "decimal = \",\"  # CONFIRM\n";
    }
    if (table_.style.thousands != '\0') {
      const std::string mark =
          table_.style.thousands == ' ' ? "space" : std::string(1, table_.style.thousands);
      out += fmt::format("thousands = \"{}\"  # CONFIRM\n", mark);
    }
    if (form_.encoding != "utf-8") out += fmt::format("encoding = \"{}\"  # CONFIRM\n", form_.encoding);
    if (table_.preamble > 0) out += fmt::format("preamble_lines = {}  # CONFIRM\n", table_.preamble);
    const std::size_t footer = time_ ? count_footer(survey_.end, table_, *time_) : 0;
    if (footer > 0) out += fmt::format("footer_lines = {}  # CONFIRM\n", footer);
    if (!table_.units.empty()) out += "units_line = true  # CONFIRM\n";
    if (table_.newest_first) out += "newest_first = true  # CONFIRM\n";
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

  [[nodiscard]] std::string time_table() const {
    std::string out = "\n[time]\n";
    if (!time_) return out + no_time_line();
    out += found_without_name() ? "# column: the first one, which has no name  # CONFIRM\n"
                                : column_line("column", time_->column, "CONFIRM");
    if (time_->date_column >= 0)
      out += column_line("date_column", static_cast<std::size_t>(time_->date_column), "CONFIRM");
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

  [[nodiscard]] std::string logging_table() const {
    std::string out =
        "\n[logging]\nmode = \"periodic\"  # CONFIRM: or \"on_change\", when silence means \"as before\"\n";
    if (time_ && !long_ && !time_->period.empty())
      out += fmt::format("# period: {} between the first rows; left out, it is found from the log\n",
                         time_->period);
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

  void add_columns() {
    std::map<std::string, std::size_t> names;
    for (const std::string& header : table_.header) {
      ++names[split_header(header).name];
      columns_.reserve(header);
    }
    for (std::size_t i = 0; i < table_.header.size(); ++i) {
      if (time_ && (i == time_->column || static_cast<int>(i) == time_->date_column)) continue;
      if (std::find(own_times_.begin(), own_times_.end(), i) != own_times_.end()) continue;
      if (is_quality_of_any(i)) continue;
      const auto unread = std::find_if(unread_times_.begin(), unread_times_.end(),
                                       [i](const UnreadTime& each) { return each.column == i; });
      if (unread != unread_times_.end()) {
        columns_.add_unread_time(table_.header[i], unread->example);
        continue;
      }
      ColumnGuess guess = named(table_.header[i]);
      guess.whole = names[split_header(guess.header).name] > 1;
      if (guess.unit.empty() && i < table_.units.size()) guess.unit = table_.units[i];
      guess.content = survey_.columns[i];
      guess.time = own_time(i);
      if (quality_[i] >= 0) guess.quality = table_.header[static_cast<std::size_t>(quality_[i])];
      guess.number = i + 1;
      columns_.add(guess);
    }
  }

  void add_names() {
    for (const Survey::Tag& tag : survey_.tags) columns_.reserve(tag.name);
    for (const Survey::Tag& tag : survey_.tags) {
      if (tag.name.empty()) continue;  // a row of no channel
      ColumnGuess guess = named(tag.name);
      guess.long_form = true;
      if (guess.unit.empty() && !tag.units.empty()) {
        guess.unit = tag.units.front();
        guess.unit_from_rows = true;
      }
      if (tag.units.size() > 1) guess.other_unit = tag.units[1];
      guess.content = tag.content;
      columns_.add(guess);
    }
  }

  const Table& table_;
  const std::filesystem::path& file_;
  TextForm form_;
  std::optional<TimeGuess> time_;
  std::vector<UnreadTime> unread_times_;
  std::optional<LongGuess> long_;
  std::vector<std::size_t> own_times_;
  std::vector<int> quality_;  // by column
  Survey survey_;
  ColumnWriter columns_;
};

}  // namespace

Result<Sketch> sketch_map(const std::filesystem::path& file, const plan::Plan* plant) {
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
  MapWriter writer(table.value(), file, beginning.value().form, plant);
  if (Diagnostics failed = writer.look(); !failed.empty()) return failed;
  return writer.write();
}

}  // namespace vacuary::log
