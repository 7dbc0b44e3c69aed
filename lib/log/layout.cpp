#include "log/layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "log/columns.hpp"
#include "log/head.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

Diagnostic problem(std::string rule, Place place, std::string message, std::string remedy) {
  Diagnostic d;
  d.rule = std::move(rule);
  d.where = std::move(place);
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

// Finds the header, its cells, the units line and the first row.
class Opening {
 public:
  Opening(std::filesystem::path path, const plan::ChannelMap& map, const Options& options, const Header* like)
      : path_(std::move(path)), map_(map), form_(text_form(map)), options_(options), like_(like) {}

  Result<OpenedFile> run() {
    auto bytes = open_bytes(path_, form_, options_.largest_decompressed, options_.received);
    if (!bytes.ok()) return bytes.diagnostics();
    head_.emplace(path_, std::move(bytes).value(), options_.longest_line);
    if (auto failure = head_->start()) return *failure;
    if (!read_header() || !read_units_line() || !find_time() || !map_columns()) {
      tell_passed_over();
      return std::move(diagnostics_);
    }
    if (!read_first_row()) return std::move(diagnostics_);
    out_.rest = head_->text().substr(head_->at());
    out_.lines = head_->lines();
    out_.consumed = head_->at();
    out_.bytes = head_->take_bytes();
    out_.turned = out_.bytes->turned();
    return Result<OpenedFile>(std::move(out_), std::move(diagnostics_));
  }

 private:
  bool fail(Diagnostic d) {
    diagnostics_.push_back(std::move(d));
    return false;
  }
  bool fail(std::string rule, Place place, std::string message, std::string remedy) {
    return fail(problem(std::move(rule), std::move(place), std::move(message), std::move(remedy)));
  }
  bool fail_ended(const char* wanted) {
    return fail_empty(fmt::format("the log ends before {}", wanted),
                      "check that the export was finished, and preamble_lines in the channel map");
  }
  bool fail_empty(std::string message, std::string remedy) {
    if (const auto& failure = bytes_failure(); failure) return fail(*failure);
    return fail(log_failure(path_, std::move(message), std::move(remedy), empty_log_rule));
  }
  const std::optional<Diagnostic>& bytes_failure() {
    out_.bytes = head_->take_bytes();
    return out_.bytes->failure();
  }

  bool next_line(char delimiter, std::optional<Head::Line>& line, bool blank_too = false) {
    auto next = head_->next(delimiter, blank_too);
    if (!next.has_value()) {
      for (const Diagnostic& d : next.diagnostics()) diagnostics_.push_back(d);
      return false;
    }
    line = next.value();
    return true;
  }

  bool read_header() {
    std::optional<Head::Line> line;
    for (unsigned i = 0; i < map_.preamble_lines; ++i) {
      if (!next_line('\0', line, true)) return false;
    }
    Layout& layout = out_.layout;
    do {
      if (!next_line('\0', line)) return false;
    } while (line && passes_over(*line));
    if (!find_by_names(line)) return false;
    if (!line) return fail_ended("its header");
    const bool find = map_.delimiter == '\0' || (!map_.file && map_.delimiter == ',');
    layout.delimiter = find ? find_delimiter(head_->of(*line)) : map_.delimiter;
    head_->go_back(*line);
    if (!next_line(layout.delimiter, line)) return false;
    const std::string_view text = head_->of(*line);
    if (const std::size_t bad = first_invalid_utf8(text); bad != std::string_view::npos) {
      return fail("unreadable-log", head_->place(line->from + bad, 1),
                  fmt::format("the header is not UTF-8: byte 0x{:02X} stands alone",
                              static_cast<unsigned char>(text[bad])),
                  "state encoding = \"latin-1\" (or \"utf-16\") in the channel map");
    }
    header_line_ = *line;
    layout.header_record = std::string(text);
    layout.comment = form_.comment;
    layout.marked_header = layout.comment != '\0' && text.starts_with(layout.comment);
    head_->comments_begin_with(layout.comment);
    return split_header_cells();
  }

  // The preambles of a run's files may be of different lengths: where no header stands behind so many lines
  // as the map says, the line above all rows that has its names is it.
  bool find_by_names(std::optional<Head::Line>& line) {
    const bool names = !form_.names.all.empty() || !form_.names.any.empty();
    if (!map_.file || !names || map_.newest_first || map_.blanks > 0) return true;
    const std::optional<Head::Line> there = line;
    const auto cells_of = [this](const Head::Line& each) {
      const std::string_view text = head_->of(each);
      return split_record(text, map_.delimiter != '\0' ? map_.delimiter : find_delimiter(text));
    };
    const auto is_row = [](const std::vector<std::string>& cells) {
      return std::count_if(cells.begin(), cells.end(),
                           [](const std::string& cell) { return is_value(trim(cell)); }) >= 3;
    };
    if (there && is_header(cells_of(*there), form_)) return true;
    constexpr int most = 1000;
    head_->go_back({0, 0, 1});
    for (int i = 0; i < most && head_->at() < most_preamble; ++i) {
      if (!next_line('\0', line)) return false;
      if (!line) break;
      const std::vector<std::string> cells = cells_of(*line);
      if (is_header(cells, form_)) {
        tell_other_preamble(line->number);
        return true;
      }
      if (is_row(cells)) break;
    }
    line = there;
    return true;
  }
  void tell_other_preamble(std::uint64_t number) {
    Diagnostic d = problem(
        "other-preamble", Place{path_.string(), number, 1, 1, ""},
        fmt::format("the header stands in line {}: it was found by its names, not behind the {} lines that "
                    "preamble_lines says",
                    number, map_.preamble_lines),
        "correct preamble_lines in the channel map, unless it is right for another file of this log");
    d.severity = Severity::warning;
    diagnostics_.push_back(std::move(d));
  }

  bool passes_over(const Head::Line& line) {
    const std::string_view text = head_->of(line);
    if (!is_comment(text, form_)) return false;
    if (split_record(text, find_delimiter(text)).size() > 1) passed_over_ = line.number;
    return true;
  }
  // It may have been the header, by other names than the map's.
  void tell_passed_over() {
    for (Diagnostic& d : diagnostics_) {
      const bool missing = d.rule == "missing-column" || d.rule == "no-channels";
      if (passed_over_ == 0 || d.severity != Severity::error || !missing) continue;
      d.remedy += fmt::format(
          "; line {} begins with '{}' and was passed over as a comment: if it is the header, name the "
          "columns as "
          "they are called there",
          passed_over_, form_.comment);
    }
  }

  bool split_header_cells() {
    Layout& layout = out_.layout;
    std::vector<std::uint32_t> delimiters;
    const std::string& record = layout.header_record;
    static_cast<void>(next_record(record, 0, {layout.delimiter}, true, &delimiters));
    std::string scratch;
    std::size_t from = 0;
    delimiters.push_back(static_cast<std::uint32_t>(record.size()));
    for (const std::uint32_t to : delimiters) {
      const std::string_view cell = std::string_view(record).substr(from, to - from);
      cells_.push_back({std::string(trim(cell_text(trim(cell), scratch))), "", from, to - from});
      from = to + 1;
    }
    while (cells_.size() > 1 && cells_.back().text.empty()) cells_.pop_back();
    layout.columns = cells_.size();
    for (const HeaderCell& cell : cells_) {
      layout.headers.push_back(cell.text);
      layout.names.push_back(bare_name(cell.text, layout));
    }
    if (layout.columns > largest_columns) {
      return fail(
          "unreadable-log", head_->place(header_line_.from, 1),
          fmt::format("the header has {} columns, at most {} are read", layout.columns, largest_columns),
          "check the delimiter, or export fewer channels at a time");
    }
    layout.channel_of_column.assign(layout.columns, -1);
    return true;
  }

  bool read_units_line() {
    if (!map_.units_line) return true;
    std::optional<Head::Line> line;
    do {
      if (!next_line(out_.layout.delimiter, line)) return false;
      if (!line) return fail_ended("its line of units");
    } while (passes_over(*line));
    const std::vector<std::string> units = split_record(head_->of(*line), out_.layout.delimiter);
    if (map_.blanks > 0 && units.size() != cells_.size()) {
      return fail("unreadable-log", head_->place(line->from, 1),
                  fmt::format("the line of units has {} of {} cells, and blanks do not show whose they are",
                              units.size(), cells_.size()),
                  "leave units_line out of the channel map and state each column's unit there");
    }
    for (std::size_t i = 0; i < cells_.size() && i < units.size(); ++i) {
      cells_[i].units_line = std::string(without_brackets(trim(units[i])));
    }
    for (const HeaderCell& cell : cells_) out_.layout.units.push_back(cell.units_line);
    return true;
  }

  bool need_column(const std::string& name, const char* what, std::size_t& column) {
    const int found = column_named(cells_, name);
    if (found >= 0) {
      column = static_cast<std::size_t>(found);
      return true;
    }
    std::vector<std::string> names;
    for (const HeaderCell& cell : cells_) names.push_back(cell.text);
    const auto near = nearest(name, names);
    return fail("missing-column", header_place(),
                fmt::format("the channel map's {} '{}' is not in the log", what, name),
                near ? fmt::format("did you mean '{}'?", *near) : "the log has: " + list_headers(cells_));
  }

  // The header of the time column that the only column of the map has for itself (plan_strands).
  [[nodiscard]] std::string own_time() const {
    if (map_.columns.size() == 1) return map_.columns.front().time;
    return map_.columns.empty() ? map_.step_time : "";
  }
  // Of time columns that are called the same, the one that stands before the map's only column.
  [[nodiscard]] std::size_t nearest_left(const std::string& time, std::size_t first) const {
    const int column =
        column_named(cells_, map_.columns.empty() ? map_.step_column : map_.columns.front().header.value);
    std::size_t found = first;
    for (std::size_t i = first; static_cast<int>(i) < column; ++i) {
      if (cells_[i].text == time || split_header(cells_[i].text).name == time) found = i;
    }
    return found;
  }

  bool find_time() {
    Layout& layout = out_.layout;
    const std::string own = own_time();
    std::string name = own.empty() ? map_.time_column : own;
    if (name.empty() && column_named(cells_, "time") >= 0) name = "time";
    if (!name.empty() && !need_column(name, "time column", layout.time_column)) return false;
    if (!own.empty()) {
      layout.own_times = true;
      layout.time_column = nearest_left(own, layout.time_column);
    } else if (!map_.time_columns.empty()) {
      for (const std::string& part : map_.time_columns) {
        std::size_t column = 0;
        if (!need_column(part, "time column", column)) return false;
        // Of columns that are called the same, the next one: month and minute may both be "mm".
        const auto used = [&](std::size_t i) {
          return std::find(layout.time_parts.begin(), layout.time_parts.end(), i) != layout.time_parts.end();
        };
        while (column < cells_.size() && (used(column) || cells_[column].text != part)) ++column;
        if (column == cells_.size()) {
          return fail(
              "missing-column", header_place(),
              fmt::format("the channel map names the time column '{}' more often than the log has it", part),
              "name each column of the time once");
        }
        layout.time_parts.push_back(column);
      }
      layout.time_column = layout.time_parts.front();
    } else if (!map_.date_column.empty()) {
      layout.time_parts = {0, layout.time_column};
      if (!need_column(map_.date_column, "date column", layout.time_parts.front())) return false;
    }
    if (map_.long_form) {
      layout.long_form = true;
      if (!need_column(map_.long_channel_column, "channel column", layout.name_column)) return false;
      if (!need_column(map_.long_value_column, "value column", layout.value_column)) return false;
      std::size_t quality = 0;
      if (!map_.long_quality_column.empty()) {
        if (!need_column(map_.long_quality_column, "quality column", quality)) return false;
        quality_column_ = static_cast<int>(quality);
      }
      std::size_t unit = 0;
      if (!map_.long_unit_column.empty()) {
        if (!need_column(map_.long_unit_column, "unit column", unit)) return false;
        layout.unit_column = static_cast<int>(unit);
      }
    }
    layout.time_header = cells_[layout.time_column].text;
    layout.style = NumberStyle{map_.decimal_comma ? ',' : '.', map_.thousands};
    layout.logging = map_.logging;
    layout.gas = options_.gas;
    layout.newest_first = map_.newest_first;
    layout.good_quality = map_.good_quality;
    auto format = stamp_format(map_);
    if (const auto* why = std::get_if<std::string>(&format)) {
      const auto place =
          map_.file ? std::optional(Place::whole_file(map_.file->path.string())) : header_place();
      return fail("unusable-time", *place, *why,
                  "state the time form in the channel map, for example zone = \"Europe/Berlin\" or \"UTC\"");
    }
    layout.stamp = std::get<StampFormat>(std::move(format));
    return time_unit_agrees();
  }

  // Elapsed time in another unit than the log says is as wrong as any channel.
  bool time_unit_agrees() {
    const HeaderCell& cell = cells_[out_.layout.time_column];
    const std::int64_t one = ns_of_one(map_.time_form);
    const std::pair<std::string, const char*> texts[] = {
        {split_header(cell.text).unit.value_or(""), "header"}, {cell.units_line, "line of units"}};
    for (const auto& [text, where] : texts) {
      const auto read = parse_unit(text, Kind::duration);
      const auto* unit = std::get_if<Unit>(&read);
      if (one == 0 || unit == nullptr || std::llround(unit->factor * 1e9) == one) continue;
      return fail(
          "contradictory-unit", cell_place(out_.layout.time_column),
          fmt::format("the time column is in '{}' by the log's {}, and the channel map reads it as {}", text,
                      where, describe(out_.layout.stamp)),
          "find out which is true and correct 'form' under [time] in the channel map");
    }
    return true;
  }

  [[nodiscard]] Place header_place() const { return head_->place(header_line_.from, 1); }
  [[nodiscard]] Place cell_place(std::size_t column) const {
    return head_->place(header_line_.from + cells_[column].offset,
                        std::max<std::size_t>(1, cells_[column].length));
  }

  bool map_columns() {
    out_.header.file = path_.string();
    ColumnMapper mapper(map_, options_, like_, out_.layout, out_.header,
                        [this](std::size_t column) { return cell_place(column); });
    const bool good = out_.layout.long_form ? mapper.map_long(quality_column_) : mapper.map_wide(cells_);
    for (Diagnostic& d : mapper.diagnostics()) diagnostics_.push_back(std::move(d));
    choose_marking();
    return good;
  }

  // The channels that are never quite the same twice, as far as their kind tells.
  void choose_marking() {
    using plan::What;
    constexpr std::size_t enough = 4;
    auto& marking = out_.layout.marking;
    for (const What what : {What::pressure, What::voltage, What::current, What::temperature, What::power,
                            What::flow, What::angle, What::energy}) {
      const auto& channels = out_.header.channels;
      for (std::size_t c = 0; c < channels.size() && marking.size() < enough; ++c) {
        if (channels[c].channel.what == what) marking.push_back(c);
      }
    }
  }

  // Looks at up to twenty rows: one of them must have a stamp.
  bool read_first_row() {
    const std::size_t at = head_->at();
    const std::uint64_t lines = head_->lines();
    std::string shown;
    std::optional<Head::Line> shown_line;
    StampReader reader(out_.layout.stamp);
    const char comment = out_.layout.comment;
    int comments = 0;
    // Of a column with stamps of its own the rows at the end, which come first where the newest do, may be
    // blank.
    const int most = out_.layout.own_times ? 20'000 : 20;
    for (int i = 0; i < most + std::min(comments, 1000) && !out_.first; ++i) {
      std::optional<Head::Line> line;
      if (!next_line(out_.layout.delimiter, line)) break;
      if (!line) break;
      if (comment != '\0' && head_->of(*line).starts_with(comment)) {
        ++comments;
        continue;
      }
      const std::string text = stamp_text(*line);
      const Stamp stamp = reader.read(text);
      if (stamp.is == StampIs::unique || stamp.is == StampIs::twice) out_.first = Instant{stamp.ns};
      if (!shown_line) {
        shown_line = line;
        shown = text;
      }
    }
    head_->go_back({at, at, lines + 1});
    if (out_.first || (out_.layout.own_times && trim(shown).empty())) {
      diagnostics_.erase(std::remove_if(diagnostics_.begin(), diagnostics_.end(),
                                        [](const Diagnostic& d) { return d.rule == "unreadable-log"; }),
                         diagnostics_.end());
      return true;
    }
    if (!shown_line)
      return fail_empty("the log has a header and no rows", "check that the export was finished");
    return fail("unusable-time", head_->place(shown_line->from, 1),
                fmt::format("the time column '{}' cannot be read: found '{}', expected {}",
                            out_.layout.time_header, shown.substr(0, 60), describe(out_.layout.stamp)),
                "state the time column and its form in the channel map ([time] column, form, format, zone)");
  }

  std::string stamp_text(const Head::Line& line) const {
    const std::vector<std::string> cells = split_record(head_->of(line), out_.layout.delimiter);
    const auto cell = [&cells](std::size_t i) { return i < cells.size() ? cells[i] : std::string(); };
    if (out_.layout.time_parts.empty()) return cell(out_.layout.time_column);
    return joined_stamp(out_.layout.time_parts, cell);
  }

  static constexpr std::size_t largest_columns = 4096;
  static constexpr std::size_t most_preamble = std::size_t{1} << 20U;  // bytes
  std::filesystem::path path_;
  const plan::ChannelMap& map_;
  TextForm form_;
  const Options& options_;
  const Header* like_;
  std::optional<Head> head_;
  Head::Line header_line_;
  std::uint64_t passed_over_ = 0;  // the last comment above it that has cells; 0: none has
  std::vector<HeaderCell> cells_;
  int quality_column_ = -1;  // of a long log
  OpenedFile out_;
  Diagnostics diagnostics_;
};

HeaderNames header_names(const plan::ChannelMap& map) {
  HeaderNames out;
  const auto add = [](const std::string& name, std::vector<std::string>& to) {
    if (!name.empty()) to.push_back(name);
  };
  for (const std::string& part : map.time_columns) add(part, out.all);
  add(map.time_column, out.all);
  add(map.date_column, out.all);
  out.first_is_time = out.all.empty();
  if (map.long_form) {
    add(map.long_channel_column, out.all);
    add(map.long_value_column, out.any);
    return out;
  }
  for (const plan::Column& column : map.columns) add(column.header.value, out.any);
  for (const plan::GivenText& ignored : map.ignore) add(ignored.value, out.any);
  add(map.step_column, out.any);
  return out;
}

}  // namespace

double CellRule::si(double number) const {
  return linear.si(logarithmic ? power_of_ten(a * number + b) : number);
}

HeaderText split_header(const std::string& text) {
  HeaderText out{text, std::nullopt};
  if (text.size() < 3) return out;
  const char open = text.back() == ']' ? '[' : text.back() == ')' ? '(' : '\0';
  if (open == '\0') return out;
  const std::size_t at = text.rfind(open);
  if (at == std::string::npos || at == 0) return out;
  // A line may break before the bracket.
  const std::size_t end = text.find_last_not_of(" \t\r\n", at - 1);
  out.name = end == std::string::npos ? "" : std::string(trim(std::string_view(text).substr(0, end + 1)));
  out.unit = std::string(trim(std::string_view(text).substr(at + 1, text.size() - at - 2)));
  return out;
}

std::string bare_name(std::string_view header, const Layout& layout) {
  if (layout.marked_header && header.starts_with(layout.comment)) header.remove_prefix(1);
  return lower(split_header(std::string(trim(header))).name);
}

TextForm text_form(const plan::ChannelMap& map) {
  TextForm out;
  out.encoding = map.encoding;
  out.blanks = map.blanks;
  out.preamble_lines = map.preamble_lines;
  out.newest_first = map.newest_first;
  out.units_line = map.units_line;
  out.footer_lines = map.footer_lines;
  out.comment = map.file ? map.comment : '#';
  out.delimiter = map.file ? map.delimiter : '\0';
  out.names = header_names(map);
  return out;
}

Result<OpenedFile> open_log_file(const std::filesystem::path& path, const plan::ChannelMap& map,
                                 const Options& options, const Header* like) {
  return Opening(path, map, options, like).run();
}

}  // namespace vacuary::log
