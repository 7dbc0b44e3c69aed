#include "log/header_again.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "log/cell.hpp"
#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

using Is = HeaderAgain::Is;
using Cells = std::vector<std::string>;

constexpr std::size_t longest_time_name = 24;  // of what is longer, a time's word is part of a sentence

// Exports keep their byte-order marks, and a page's form feed stands before its header.
std::string_view without_marks_before(std::string_view record) {
  constexpr std::string_view order_mark = "\xEF\xBB\xBF";
  for (;;) {
    if (record.starts_with(order_mark)) {
      record.remove_prefix(order_mark.size());
    } else if (record.starts_with('\f')) {
      record.remove_prefix(1);
    } else {
      return record;
    }
  }
}

Cells cells_of(std::string_view record, const Layout& layout) {
  Cells out = split_record(record, layout.delimiter);
  for (std::string& cell : out) cell = std::string(trim(cell));
  while (out.size() > 1 && out.back().empty()) out.pop_back();
  return out;
}

bool is_named(const std::string& cell, const Layout& layout) {
  return std::find(layout.names.begin(), layout.names.end(), bare_name(cell, layout)) != layout.names.end();
}

bool names_time(const std::string& cell) { return cell.size() <= longest_time_name && named_like_time(cell); }

// Names of columns as the header has them, at least half of all; or, in the header's place, nothing but names
// of which the time's is one.
bool is_header(const Cells& cells, const Layout& layout) {
  if (std::any_of(cells.begin(), cells.end(), [](const std::string& cell) { return is_value(cell); }))
    return false;
  const auto filled =
      std::count_if(cells.begin(), cells.end(), [](const std::string& c) { return !c.empty(); });
  const auto known = std::count_if(cells.begin(), cells.end(), [&](const std::string& cell) {
    return !cell.empty() && (is_named(cell, layout) || names_time(cell));
  });
  if (known >= 2 && 2 * known >= filled) return true;
  return filled >= 2 && cells.size() == layout.columns && static_cast<std::size_t>(filled) == cells.size() &&
         names_time(cells[layout.time_column]);
}

// The column of the first unit that is another than before, if the line is one of units: it holds one that
// fits its channel, and no value of any.
struct Units {
  bool are = false;
  std::string before, now;  // differ; empty: none do
};
Units units_in(const Cells& cells, const Layout& layout) {
  Units out;
  for (std::size_t i = 0; i < layout.columns; ++i) {
    const int channel = layout.channel_of_column[i];
    if (channel < 0 || layout.rules[static_cast<std::size_t>(channel)].text) continue;
    const std::string cell(i < cells.size() ? without_brackets(cells[i]) : "");
    if (is_value(cell)) return {};
    const std::string first = i < layout.units.size() ? layout.units[i] : "";
    const std::optional<Unit>& unit = layout.rules[static_cast<std::size_t>(channel)].unit;
    bool same = cell == first;
    out.are = out.are || (same && !cell.empty());
    if (unit && !cell.empty()) {
      const auto read = parse_unit(cell, unit->kind);
      if (const auto* now = std::get_if<Unit>(&read)) {
        out.are = true;
        same = same || same_unit(*now, *unit);
      } else if (end_of_number(cell, layout.style) > 0) {
        return {};  // a value with its unit
      } else {
        same = same || layout.units.empty();  // it says nothing of the unit that the map states
      }
    }
    if (same || !out.before.empty()) continue;
    out.before = !first.empty() ? first : unit ? unit->symbol : "";
    out.now = cell;
  }
  return out;
}

}  // namespace

HeaderAgain header_again(std::string_view record, const Layout& layout) {
  const Cells cells = cells_of(without_marks_before(record), layout);
  if (cells == layout.headers) return {Is::same, "the header stands here again"};
  const bool names = std::any_of(cells.begin(), cells.end(), [&](const std::string& cell) {
    return !layout.time_header.empty() && cell == layout.time_header;
  });
  if (names || is_header(cells, layout))
    return {Is::other, "a second header with other columns or units: what follows was not read"};
  const Units units = units_in(cells, layout);
  if (!units.are) return {};
  if (units.before.empty() && units.now.empty()) return {Is::same, "the line of units stands here again"};
  return {Is::other, fmt::format("a second line of units says '{}' where the first says '{}': what follows "
                                 "was not read",
                                 shown(units.now), shown(units.before))};
}

}  // namespace vacuary::log
