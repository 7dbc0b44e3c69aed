// Rows of (time, channel, value).
#include <algorithm>
#include <utility>

#include "log/cell.hpp"
#include "log/parse.hpp"
#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {

// Rows of (time, channel, value): those with one stamp become one row.
void SlabParser::read_long() {
  std::vector<Instant> time;
  std::vector<std::uint64_t> line;
  for (auto& column : out_.block.values) column.clear();
  std::vector<std::size_t> new_row(rows_.size());
  for (std::size_t r = 0; r < rows_.size(); ++r) {
    const std::string_view name = trim(cell_text(trim(cell(rows_[r], layout_.name_column)), scratch_));
    const auto found = layout_.channel_of_name.find(name);
    if (found == layout_.channel_of_name.end()) note_unmapped(name);
    const int channel = found == layout_.channel_of_name.end() ? -1 : found->second;
    if (time.empty() || time.back() != out_.block.time[r] || is_set(channel, time.size() - 1)) {
      time.push_back(out_.block.time[r]);
      line.push_back(out_.block.line[r]);
      add_unset_row();
    }
    new_row[r] = time.size() - 1;
    if (channel < 0 || (r + 1 == rows_.size() && last_cell_cut(layout_.columns - 1))) continue;
    read_long_value(static_cast<std::size_t>(channel), r, time.size() - 1);
  }
  out_.block.time = std::move(time);
  out_.block.line = std::move(line);
  renumber(new_row);
}

void SlabParser::note_unmapped(std::string_view name) {
  auto& names = out_.unmapped;
  if (names.size() < most_unmapped && std::find(names.begin(), names.end(), name) == names.end())
    names.emplace_back(name);
}

bool SlabParser::is_set(int channel, std::size_t row) const {
  if (channel < 0) return false;
  const auto c = static_cast<std::size_t>(channel);
  if (layout_.rules[c].text) return !out_.block.texts[c].empty() && out_.block.texts[c].back().row == row;
  return !is_unset(out_.block.values[c][row]);
}
void SlabParser::add_unset_row() {
  for (std::size_t c = 0; c < layout_.rules.size(); ++c) {
    if (!layout_.rules[c].text) out_.block.values[c].push_back(unset_cell());
  }
}
void SlabParser::read_long_value(std::size_t c, std::size_t r, std::size_t row) {
  const std::string_view raw = cell(rows_[r], layout_.value_column);
  if (layout_.rules[c].text) {
    out_.block.texts[c].push_back({row, text_value(c, raw)});
    return;
  }
  if (const int quality = layout_.rules[c].quality_column; quality >= 0) {
    if (const std::string_view bad = bad_quality(r, quality); bad.data() != nullptr) {
      refuse_number(c, row, bad);
      return;
    }
  }
  std::string_view unit;
  if (layout_.unit_column >= 0) {
    const std::string_view named = cell(rows_[r], static_cast<std::size_t>(layout_.unit_column));
    unit = without_brackets(trim(cell_text(trim(named), scratch_)));
  }
  read_number(CellReader(layout_.rules[c], layout_, named_units_[c]), raw, c, row, unit);
}
void SlabParser::renumber(const std::vector<std::size_t>& new_row) {
  const auto to = [&](std::size_t row) {
    return row < new_row.size() ? new_row[row] : out_.block.time.size();
  };
  for (RowOddity& odd : out_.rows) odd.row = to(odd.row);
  for (std::size_t& row : out_.dropped) row = to(row);
  for (std::size_t& row : out_.headers) row = to(row);
  for (Parsed::Twice& twice : out_.twice) twice.row = to(twice.row);
  const auto same = [](const Parsed::Twice& a, const Parsed::Twice& b) { return a.row == b.row; };
  out_.twice.erase(std::unique(out_.twice.begin(), out_.twice.end(), same), out_.twice.end());
}

}  // namespace vacuary::log
