#include "log/columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "log/cell.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

// "ion.presure" is near "ion.pressure".
std::optional<std::string> near_channel(const std::string& name) {
  static const std::vector<std::string> whats = {"pressure", "flow",        "power", "voltage", "current",
                                                 "energy",   "arcs",        "open",  "angle",   "speed",
                                                 "index",    "temperature", "state", "alarm",   "step"};
  const std::size_t dot = name.rfind('.');
  if (dot == std::string::npos || dot == 0) return std::nullopt;
  const auto what = nearest(name.substr(dot + 1), whats);
  if (!what) return std::nullopt;
  return name.substr(0, dot + 1) + *what;
}

// A text that reads as a unit, though not of the channel's kind; unless a person has named the header with
// it.
bool of_another_kind(const std::string& text, const plan::Column* column, const HeaderCell& cell) {
  const bool named_whole = column != nullptr && column->header.value == cell.text;
  const auto units = parse_unit_of_any_kind(text);
  return !named_whole && std::holds_alternative<std::vector<Unit>>(units);
}

}  // namespace

std::string list_headers(const std::vector<HeaderCell>& cells) {
  constexpr std::size_t most = 12;
  std::string out;
  for (std::size_t i = 0; i < cells.size() && i < most; ++i) {
    out += fmt::format("{}'{}'", i == 0 ? "" : ", ", cells[i].text.substr(0, 40));
  }
  if (cells.size() > most) out += fmt::format(" and {} more", cells.size() - most);
  return out;
}

namespace {

std::vector<int> columns_named(const std::vector<HeaderCell>& cells, const std::string& name) {
  std::vector<int> out;
  for (const bool whole : {true, false}) {
    for (std::size_t i = 0; i < cells.size(); ++i) {
      if ((whole ? cells[i].text : split_header(cells[i].text).name) == name)
        out.push_back(static_cast<int>(i));
    }
    if (!out.empty()) break;
  }
  return out;
}

}  // namespace

int column_named(const std::vector<HeaderCell>& cells, const std::string& name) {
  const std::vector<int> found = columns_named(cells, name);
  return found.empty() ? -1 : found.front();
}

void ColumnMapper::complain(Severity severity, std::string rule, std::size_t column, std::string message,
                            std::string remedy) {
  Diagnostic d;
  d.severity = severity;
  d.rule = std::move(rule);
  d.where = place_of_column_(column);
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  diagnostics_.push_back(std::move(d));
}

ColumnMapper::Match ColumnMapper::match(const std::string& text) const {
  const std::string name = split_header(text).name;
  for (const bool whole : {true, false}) {
    const std::string& key = whole ? text : name;
    if (!whole && headers_.contains(key)) break;  // the map means the column called just so
    for (const plan::Column& column : map_.columns) {
      if (column.header.value == key) return {column.channel, &column, false};
    }
    if (!map_.step_column.empty() && map_.step_column == key) {
      return {plan::Channel{"run", plan::What::step}, nullptr, false};
    }
    for (const plan::GivenText& ignored : map_.ignore) {
      if (ignored.value == key) return {std::nullopt, nullptr, true};
    }
    for (const plan::Column& column : map_.columns) {
      if (!column.quality.empty() && column.quality == key) return {std::nullopt, nullptr, true};
    }
  }
  return {plan::parse_channel(name), nullptr, false};
}

bool ColumnMapper::wanted(const plan::Channel& channel) const {
  if (options_.wanted.empty()) return true;
  return std::find(options_.wanted.begin(), options_.wanted.end(), channel.name()) != options_.wanted.end();
}

std::optional<Unit> ColumnMapper::stated_unit(std::size_t column, const Match& match,
                                              const HeaderCell& cell) {
  const Kind kind = plan::kind_of(match.channel->what);
  std::optional<Unit> found;
  if (match.column != nullptr) found = match.column->unit;
  std::string found_in = "channel map";
  const auto bracket = split_header(cell.text).unit;
  const std::pair<std::string, const char*> texts[] = {{bracket.value_or(""), "header"},
                                                       {cell.units_line, "line of units"}};
  for (const auto& [text, where] : texts) {
    if (text.empty()) continue;
    const auto parsed = parse_unit(text, kind);
    if (const auto* unit = std::get_if<Unit>(&parsed)) {
      if (found && !same_unit(*found, *unit)) {
        complain(Severity::error, "contradictory-unit", column,
                 fmt::format("the unit of '{}' is '{}' by the {} and '{}' by the log's {}",
                             match.channel->name(), found->symbol, found_in, unit->symbol, where),
                 "find out which is true and correct the channel map");
        return std::nullopt;
      }
      if (!found) {
        found = *unit;
        found_in = where;
      }
    } else if (found && of_another_kind(text, match.column, cell)) {
      complain(Severity::error, "contradictory-unit", column,
               fmt::format("the unit of '{}' is '{}' by the {} and '{}' by the log's {}, which is no {}",
                           match.channel->name(), found->symbol, found_in, text, where, name(kind)),
               fmt::format(
                   "find out which is true and correct the channel map; if '{}' is no unit but part of the "
                   "name, or says too little, give the whole header, '{}', in the channel map",
                   text, cell.text));
      return std::nullopt;
    } else if (!found) {
      const auto& trouble = std::get<TextProblem>(parsed);
      std::string remedy = trouble.remedy;
      // Stated under less than the whole header it would contradict the log's.
      if (of_another_kind(text, nullptr, cell))
        remedy +=
            fmt::format("; state the true one in the channel map, under the whole header '{}'", cell.text);
      complain(Severity::error, "bad-unit", column,
               fmt::format("the unit of '{}' is not understood: {}", match.channel->name(), trouble.message),
               std::move(remedy));
      return std::nullopt;
    }
  }
  if (found) return found;
  complain(Severity::error, "missing-unit", column,
           fmt::format("the column '{}' has no unit, expected one of {}", cell.text, name(kind)),
           fmt::format("write it in the header, '{} [unit]', or in the channel map; nothing is guessed",
                       split_header(cell.text).name));
  return std::nullopt;
}

std::optional<Unit> ColumnMapper::unit_of(std::size_t column, const Match& match, const HeaderCell& cell) {
  const Kind kind = plan::kind_of(match.channel->what);
  if (match.column != nullptr && match.column->logarithmic) return match.column->logarithmic->unit;
  if (kind == Kind::count) return Unit{"", Kind::count, 1, 0, FlowBasis::amount};
  const bool words = match.column != nullptr && !match.column->states.empty();
  const auto is_said = [kind](const std::string& text) {
    return !text.empty() && std::holds_alternative<Unit>(parse_unit(text, kind));
  };
  const bool said = (match.column != nullptr && match.column->unit) || is_said(cell.units_line) ||
                    is_said(split_header(cell.text).unit.value_or(""));
  if (kind == Kind::ratio && words && !said) return Unit{"ratio", Kind::ratio, 1, 0, FlowBasis::amount};
  return stated_unit(column, match, cell);
}

CellRule ColumnMapper::rule(const Match& match, const Unit& unit) const {
  CellRule out;
  out.text = plan::is_text(match.channel->what);
  if (match.channel->what == plan::What::step) {
    for (const auto& [text, step] : map_.step_names) out.renames.emplace(plain_blanks(text), step);
  }
  out.linear.factor = factor_of(unit, options_.gas);
  out.linear.unit_offset = unit.offset;
  if (!out.text && unit.kind != Kind::count) out.unit = unit;
  if (match.column == nullptr) return out;
  const plan::Column& column = *match.column;
  out.linear.gain = column.gain;
  out.linear.offset = column.offset_si;
  if (column.logarithmic) {
    out.unit.reset();
    out.logarithmic = true;
    out.a = column.logarithmic->a;
    out.b = column.logarithmic->b;
  }
  out.bad_values = column.bad_values;
  out.bad_texts = column.bad_texts;
  out.overrange = column.overrange;
  out.states = column.states;
  out.quality_column = quality_column_;
  return out;
}

// The index of the channel in header_.channels, or -1 when it is not to be read.
int ColumnMapper::place_channel(ChannelInfo info, CellRule rule, std::size_t column) {
  int index = -1;
  if (like_ != nullptr) {
    index = header_.find(info.channel);
    if (index < 0) {
      complain(Severity::warning, "extra-column", column,
               fmt::format("'{}' is not in the first file of this log and is left out", info.header),
               "name the file that has all channels first");
      return -1;
    }
  } else if (header_.find(info.channel) >= 0) {
    index = header_.find(info.channel);
    complain(Severity::error, "duplicate-channel", column,
             fmt::format("two columns are '{}': '{}' and '{}'", info.channel.name(),
                         header_.channels[static_cast<std::size_t>(index)].header, info.header),
             "map them to two channels, or ignore one in the channel map");
    return -1;
  } else {
    index = static_cast<int>(header_.channels.size());
    header_.channels.push_back(std::move(info));
    layout_.rules.emplace_back();
  }
  layout_.rules[static_cast<std::size_t>(index)] = std::move(rule);
  return index;
}

// The column that says whether the cells of this one are good.
bool ColumnMapper::find_quality(std::size_t column, const Match& match) {
  if (layout_.long_form) return true;
  quality_column_ = -1;
  if (match.column == nullptr || match.column->quality.empty()) return true;
  const std::vector<int> called = columns_named(*cells_, match.column->quality);
  if (called.size() == 1) quality_column_ = called.front();
  // Of several each is that of the columns before it.
  const auto behind = std::upper_bound(called.begin(), called.end(), static_cast<int>(column));
  if (called.size() > 1 && behind != called.end()) quality_column_ = *behind;
  if (quality_column_ >= 0) return true;
  complain(Severity::error, "missing-column", column,
           called.empty()
               ? fmt::format("the channel map's quality column '{}' is not in the log", match.column->quality)
               : fmt::format("no '{}' stands behind this column, and of several each is that of the columns "
                             "before it",
                             match.column->quality),
           "without it nothing says which values are good; if they all are, take 'quality' out of the map");
  return false;
}

void ColumnMapper::add(std::size_t column, const Match& match, const HeaderCell& cell) {
  ++known_;
  if (!wanted(*match.channel)) return;
  ChannelInfo info;
  info.channel = *match.channel;
  info.header = cell.text;
  info.text = plan::is_text(match.channel->what);
  if (!info.text) {
    const auto unit = unit_of(column, match, cell);
    if (!unit) return;
    info.unit = *unit;
  }
  if (!find_quality(column, match)) return;
  CellRule cells = rule(match, info.unit);
  layout_.channel_of_column[column] = place_channel(std::move(info), std::move(cells), column);
}

bool ColumnMapper::map_wide(const std::vector<HeaderCell>& cells) {
  cells_ = &cells;
  if (like_ != nullptr) {
    header_.channels = like_->channels;
    layout_.rules.resize(header_.channels.size());
  }
  for (const HeaderCell& cell : cells) headers_.insert(cell.text);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const auto& parts = layout_.time_parts;
    if (i == layout_.time_column || std::find(parts.begin(), parts.end(), i) != parts.end()) continue;
    const Match found = match(cells[i].text);
    if (found.column != nullptr) used_.insert(found.column);
    if (found.ignored) continue;
    if (!found.channel) {
      header_.unmapped.push_back(cells[i].text);
      continue;
    }
    add(i, found, cells[i]);
  }
  report_missing_map_columns(cells);
  return finish(cells);
}

void ColumnMapper::report_missing_map_columns(const std::vector<HeaderCell>& cells) {
  std::vector<std::string> names;
  for (const HeaderCell& cell : cells) names.push_back(cell.text);
  for (const plan::Column& column : map_.columns) {
    if (used_.contains(&column) || !wanted(column.channel)) continue;
    const bool is_stamp = std::find(names.begin(), names.end(), column.header.value) != names.end();
    const auto near = nearest(column.header.value, names);
    Diagnostic d;
    d.severity = Severity::warning;
    d.rule = "missing-column";
    d.where = column.header.at.place();
    d.message = fmt::format("the channel map's column '{}' is not in the log '{}'", column.header.value,
                            header_.file);
    if (is_stamp) {
      d.message = fmt::format("the channel map lists '{}' as a channel, but it is the log's time",
                              column.header.value);
      d.remedy = "take it out of the map's columns";
    } else {
      d.remedy = near ? fmt::format("did you mean '{}'?", *near) : "the log has: " + list_headers(cells);
    }
    diagnostics_.push_back(std::move(d));
  }
}

bool ColumnMapper::finish(const std::vector<HeaderCell>& cells) {
  if (has_errors(diagnostics_)) return false;
  if (known_ > 0) {
    if (!header_.channels.empty()) return true;
    complain(Severity::error, "no-channels", 0, "none of the wanted channels is in this log",
             "the log has: " + list_headers(cells));
    return false;
  }
  std::string remedy =
      "write a channel map that says which column is which channel ('vacuary channels LOG' makes a first "
      "one), or "
      "name the columns '<device>.<what> [unit]', for example 'ion.pressure [mbar]'";
  for (const HeaderCell& cell : cells) {
    const HeaderText text = split_header(cell.text);
    if (const auto near = near_channel(text.name)) {
      remedy = fmt::format("did you mean '{}' for '{}'? Otherwise {}", *near, text.name, remedy);
      break;
    }
  }
  complain(Severity::error, "no-channels", 0,
           "no column of this log is a known channel; it has: " + list_headers(cells), remedy);
  return false;
}

bool ColumnMapper::map_long(int quality_column) {
  quality_column_ = quality_column;
  if (like_ != nullptr) {
    header_.channels = like_->channels;
    layout_.rules.resize(header_.channels.size());
  }
  // The names stand in the rows: only what the map lists is read.
  for (const plan::GivenText& ignored : map_.ignore) layout_.channel_of_name[ignored.value] = -1;
  for (const plan::Column& column : map_.columns) {
    ++known_;
    layout_.channel_of_name[column.header.value] = -1;
    if (!wanted(column.channel)) continue;
    ChannelInfo info;
    info.channel = column.channel;
    info.header = column.header.value;
    info.text = plan::is_text(column.channel.what);
    const HeaderCell cell{column.header.value, "", 0, 1};
    const Match found{column.channel, &column, false};
    if (!info.text) {
      const auto unit = unit_of(layout_.name_column, found, cell);
      if (!unit) continue;
      info.unit = *unit;
    }
    CellRule cells = rule(found, info.unit);
    const int index = place_channel(std::move(info), std::move(cells), layout_.name_column);
    layout_.channel_of_name[column.header.value] = index;
  }
  if (!map_.step_column.empty() && wanted({"run", plan::What::step})) {
    const Match found{plan::Channel{"run", plan::What::step}, nullptr, false};
    ChannelInfo info{*found.channel, map_.step_column, {}, true};
    CellRule cells = rule(found, info.unit);
    layout_.channel_of_name[map_.step_column] =
        place_channel(std::move(info), std::move(cells), layout_.name_column);
  }
  if (has_errors(diagnostics_)) return false;
  if (!header_.channels.empty()) return true;
  complain(Severity::error, "no-channels", layout_.name_column,
           "the log has rows of (time, channel, value) and the channel map lists no channel of it",
           "list them in the channel map");
  return false;
}

}  // namespace vacuary::log
