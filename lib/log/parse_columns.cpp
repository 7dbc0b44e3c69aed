// The cells of a wide log, column by column.
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

#include "log/parse.hpp"
#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

// Numbers that mean something else by the channel's rule, for the slow path to say what.
std::uint64_t ruled_out(const CellRule& rule, const TileNumbers& numbers, std::size_t n) {
  if (rule.plain()) return 0;
  if (!rule.states.empty()) return ~std::uint64_t{0};
  std::uint64_t out = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double v = numbers.value[i];
    bool odd = rule.overrange && v >= *rule.overrange;
    for (const double bad : rule.bad_values) odd = odd || v == bad;
    out |= static_cast<std::uint64_t>(odd) << i;
  }
  return out;
}

}  // namespace

// Tile by tile, so that the cells of a tile stay in the first cache while its columns are read.
void SlabParser::read_columns() {
  std::vector<std::size_t> numeric;
  for (std::size_t column = 0; column < layout_.columns; ++column) {
    const int channel = layout_.channel_of_column[column];
    if (channel < 0) continue;
    const auto c = static_cast<std::size_t>(channel);
    present_.push_back(channel);
    if (layout_.rules[c].text) {
      read_text(column, c, rows_.size() - (last_cell_cut(column) ? 1 : 0));
    } else {
      out_.block.values[c].resize(rows_.size());
      numeric.push_back(column);
    }
  }
  for (std::size_t from = 0; from < rows_.size(); from += tile_rows) {
    for (const std::size_t column : numeric) read_tile(column, from);
  }
  fill_absent();
  mark_rows();
}

// Rows with the same values have the same mark; a few channels tell rows apart well enough.
void SlabParser::mark_rows() {
  out_.mark.assign(rows_.size(), 0);
  for (const std::size_t c : layout_.marking) {
    const double* values = out_.block.values[c].data();
    for (std::size_t i = 0; i < rows_.size(); ++i)
      out_.mark[i] = std::rotl(out_.mark[i], 23) ^ std::bit_cast<std::uint64_t>(values[i]);
  }
}

// Where the cells of a column stand, in rows `from` to `from + tile.rows`.
void SlabParser::find_cells(std::size_t column, std::size_t from, Tile& tile) const {
  const std::uint32_t* delimiters = index_.delimiters().data() + column;
  const RowSpan* rows = rows_.data() + from;
  const bool first = column == 0;
  const bool last = column + 1 == layout_.columns;
  if (!first && !last) {
    for (std::size_t i = 0; i < tile.rows; ++i) {
      const std::uint32_t* edge = delimiters + rows[i].delimiter;
      tile.begin[i] = edge[-1] + 1;
      tile.length[i] = edge[0] - edge[-1] - 1;
    }
    return;
  }
  for (std::size_t i = 0; i < tile.rows; ++i) {
    const std::uint32_t* edge = delimiters + rows[i].delimiter;
    const std::uint32_t begin = first ? rows[i].begin : edge[-1] + 1;
    const std::uint32_t end = last ? rows[i].end : edge[0];
    tile.begin[i] = begin;
    tile.length[i] = end - begin;
  }
}

// Takes blanks before the cells and quotation marks around them off; false when there were none.
bool SlabParser::strip_cells(Tile& tile) const {
  bool stripped = false;
  for (std::size_t i = 0; i < tile.rows; ++i) {
    std::uint32_t begin = tile.begin[i];
    std::uint32_t end = begin + tile.length[i];
    while (begin < end && text_[begin] == ' ') ++begin;
    if (begin + 1 < end && text_[begin] == '"' && text_[end - 1] == '"') {
      ++begin;
      --end;
    }
    stripped |= end - begin != tile.length[i];
    tile.begin[i] = begin;
    tile.length[i] = end - begin;
  }
  return stripped;
}

void SlabParser::read_tile(std::size_t column, std::size_t from) {
  const auto c = static_cast<std::size_t>(layout_.channel_of_column[column]);
  const CellRule& rule = layout_.rules[c];
  Tile tile;
  tile.rows = std::min(tile_rows, rows_.size() - from);
  find_cells(column, from, tile);
  TileNumbers numbers;
  kernels_.numbers(text_.data(), tile, layout_.style.point, numbers);
  if (numbers.not_read != 0 && strip_cells(tile))
    kernels_.numbers(text_.data(), tile, layout_.style.point, numbers);
  const std::uint64_t all = tile.rows == 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << tile.rows) - 1;
  const int quality = rule.quality_column;
  std::uint64_t slow = numbers.not_read | ruled_out(rule, numbers, tile.rows);
  for (std::size_t i = 0; quality >= 0 && i < tile.rows; ++i)
    slow |= static_cast<std::uint64_t>(bad_quality(from + i, quality).data() != nullptr) << i;
  double* const values = &out_.block.values[c][from];
  if (rule.logarithmic) {
    for (std::size_t i = 0; i < tile.rows; ++i) {
      values[i] = rule.si(numbers.value[i]);
      slow |= static_cast<std::uint64_t>(!std::isfinite(values[i])) << i;
    }
  } else {
    slow |= kernels_.linear(numbers.value, tile.rows, rule.linear, values);
  }
  slow &= all;
  if (slow != all) note_digits(c, from, numbers);
  const CellReader reader(rule, layout_, named_units_[c]);
  for (; slow != 0; slow &= slow - 1) {
    const std::size_t r = from + static_cast<std::size_t>(std::countr_zero(slow));
    const std::string_view bad = quality < 0 ? std::string_view() : bad_quality(r, quality);
    if (r + 1 == rows_.size() && last_cell_cut(column)) {
      out_.block.values[c][r] = std::nan("");
    } else if (bad.data() != nullptr) {
      refuse_number(c, r, bad);
    } else {
      read_number(reader, cell(rows_[r], column), c, r);
    }
  }
  if (from + tile.rows == rows_.size() && last_cell_cut(column)) out_.block.values[c].back() = std::nan("");
}

// The last cell of a line that has no line break may have lost digits.
bool SlabParser::last_cell_cut(std::size_t column) const {
  return slab_.cut && column + 1 == layout_.columns && !rows_.empty() && rows_.back().end + 1 == text_.size();
}

void SlabParser::read_number(const CellReader& reader, std::string_view text, std::size_t c, std::size_t r,
                             std::string_view unit) {
  const Cell read = reader.read(text, unit);
  out_.block.values[c][r] = read.value;
  if (!read.odd) {
    note_digits(c, r, read.decimals, read.significant);
    return;
  }
  if (read.what == Oddity::missing_cell && layout_.logging == plan::Logging::on_change) {
    out_.block.values[c][r] = unset_cell();
    return;
  }
  const std::string with_unit = unit.empty() ? std::string() : fmt::format("{} {}", text, unit);
  odd_cell(read.what, static_cast<int>(c), r, unit.empty() ? text : with_unit);
}

// What the row's quality cell says if that is not good; else a view of nothing. A missing word is not good.
std::string_view SlabParser::bad_quality(std::size_t r, int quality_column) {
  const std::string_view raw = cell(rows_[r], static_cast<std::size_t>(quality_column));
  if (raw == good_ && good_.data() != nullptr) return {};
  const std::string_view text = trim(cell_text(trim(raw), scratch_));
  const auto& good = layout_.good_quality;
  if (std::find(good.begin(), good.end(), text) == good.end()) return raw;
  good_ = raw;
  return {};
}

void SlabParser::refuse_number(std::size_t c, std::size_t r, std::string_view quality) {
  out_.block.values[c][r] = std::nan("");
  odd_cell(Oddity::bad_value, static_cast<int>(c), r, quality.empty() ? "no quality" : quality);
}

void SlabParser::note_digits(std::size_t c, std::size_t r, const TileNumbers& numbers) {
  std::uint8_t significant = 0;
  for (std::uint64_t m = numbers.largest_mantissa; m != 0; m /= 10) ++significant;
  note_digits(c, r, static_cast<std::uint8_t>(numbers.most_decimals), significant);
}

void SlabParser::note_digits(std::size_t c, std::size_t r, std::uint8_t decimals, std::uint8_t significant) {
  auto& segments = out_.digits[c];
  const std::size_t segment = r / digits_rows;
  if (segments.size() <= segment) segments.resize(segment + 1);
  Parsed::Digits& digits = segments[segment];
  digits.decimals = std::max(digits.decimals, decimals);
  digits.significant = std::max(digits.significant, significant);
}

// Channels of the log that this file does not have.
void SlabParser::fill_absent() {
  const std::size_t n = rows_.size();
  for (std::size_t c = 0; c < layout_.rules.size(); ++c) {
    if (std::find(present_.begin(), present_.end(), static_cast<int>(c)) != present_.end()) continue;
    if (layout_.rules[c].text) continue;
    out_.block.values[c].assign(n, std::nan(""));
    if (n > 0)
      out_.cells.push_back(
          {Oddity::missing_cell, static_cast<int>(c), 0, n - 1, "the file has no such column"});
  }
}

std::string SlabParser::text_value(std::size_t c, std::string_view raw) {
  std::string text = plain_blanks(clean(trim(cell_text(trim(raw), scratch_))));
  const auto& renames = layout_.rules[c].renames;
  auto renamed = renames.find(text);
  // "1" and "1.0" are one step.
  const ParsedNumber number = parse_number(text, layout_.style);
  if (renamed == renames.end() && number.is == NumberIs::number) {
    renamed = std::find_if(renames.begin(), renames.end(), [&](const auto& each) {
      const ParsedNumber name = parse_number(each.first, layout_.style);
      return name.is == NumberIs::number && name.value == number.value;
    });
  }
  return renamed == renames.end() ? text : renamed->second;
}

void SlabParser::read_text(std::size_t column, std::size_t c, std::size_t n) {
  std::string_view before;
  const bool holds = layout_.logging == plan::Logging::on_change;
  for (std::size_t r = 0; r < n; ++r) {
    const std::string_view raw = cell(rows_[r], column);
    if (r > 0 && raw == before) continue;
    if (holds && trim(raw).empty()) continue;  // as before
    before = raw;
    std::string text = text_value(c, raw);
    if (out_.block.texts[c].empty() || out_.block.texts[c].back().text != text)
      out_.block.texts[c].push_back({r, std::move(text)});
  }
}

}  // namespace vacuary::log
