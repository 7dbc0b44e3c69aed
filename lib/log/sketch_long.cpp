// Whether the rows of an unknown export are of (time, name, value).
#include <algorithm>
#include <set>

#include "log/layout.hpp"
#include "log/sketch.hpp"

namespace vacuary::log {
namespace {

// Columns that are called so, such as "Tag name" and "Value", are so also where a file is about one channel,
// or about texts.
std::optional<LongGuess> long_form_by_name(const Table& table, const TimeGuess& time) {
  const auto called = [](const std::string& header, std::initializer_list<std::string_view> words) {
    std::string name = lower(split_header(header).name);
    for (const std::string_view end : {" name", "_name", "name"}) {
      if (name.size() > end.size() && name.ends_with(end)) name.resize(name.size() - end.size());
    }
    return std::find(words.begin(), words.end(), name) != words.end();
  };
  LongGuess guess;
  std::size_t names = 0, values = 0;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    const std::string& header = table.header[column];
    if (time.has(column)) continue;
    if (is_quality(table, column)) guess.quality_column = static_cast<int>(column);
    if (called(header, {"unit", "units", "einheit", "unidad", "unit\u00E9", "unit\u00E0"}))
      guess.unit_column = static_cast<int>(column);
    if (called(header, {"channel", "tag", "point", "signal", "variable", "sensor", "parameter", "item"})) {
      guess.name_column = column;
      ++names;
    }
    if (called(header, {"value", "val", "reading", "wert", "valor", "valeur", "valore"})) {
      guess.value_column = column;
      ++values;
    }
  }
  const auto text = [&](const Cells& row) {
    return parse_number(row[guess.name_column], table.style).is == NumberIs::unreadable;
  };
  const bool found = names == 1 && values == 1 && std::all_of(table.rows.begin(), table.rows.end(), text);
  return found ? std::optional(guess) : std::nullopt;
}

}  // namespace

std::optional<LongGuess> find_long_form(const Table& table, const TimeGuess& time) {
  if (table.header.size() < 3 || table.header.size() > 8) return std::nullopt;
  if (const auto named = long_form_by_name(table, time)) return named;
  std::optional<LongGuess> best;
  std::size_t numeric = 0;
  LongGuess guess;
  std::vector<std::size_t> texts;
  for (std::size_t column = 0; column < table.header.size(); ++column) {
    if (time.has(column)) continue;
    if (is_quality(table, column)) {
      guess.quality_column = static_cast<int>(column);
      continue;
    }
    std::size_t numbers = 0;
    std::size_t words = 0;
    for (const Cells& row : table.rows) {
      const NumberIs is = parse_number(row[column], table.style).is;
      if (is == NumberIs::number) ++numbers;
      if (is == NumberIs::unreadable) ++words;
    }
    if (numbers > words) {
      ++numeric;
      guess.value_column = column;
    } else if (numbers == 0 && words > 0) {
      texts.push_back(column);
    }
  }
  if (numeric != 1 || texts.empty()) return std::nullopt;
  // The names: from row to row mostly another one, and far fewer of them than rows.
  for (const std::size_t column : texts) {
    std::set<std::string> names;
    std::size_t changes = 0;
    bool units = true;
    for (std::size_t i = 0; i < table.rows.size(); ++i) {
      const std::string& cell = table.rows[i][column];
      names.insert(cell);
      if (i > 0 && cell != table.rows[i - 1][column]) ++changes;
      units = units && (cell.empty() || is_unit(cell));
    }
    if (units) {
      guess.unit_column = static_cast<int>(column);
    } else if (names.size() >= 2 && 3 * names.size() <= table.rows.size() &&
               2 * changes >= table.rows.size() && !best) {
      guess.name_column = column;
      best = guess;
    }
  }
  if (best) best->unit_column = guess.unit_column;
  if (best) best->quality_column = guess.quality_column;
  return best;
}

}  // namespace vacuary::log
