#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <utility>

#include "log/cell.hpp"
#include "log/index.hpp"
#include "log/record.hpp"
#include "log/slab.hpp"
#include "log/watch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

constexpr std::uint64_t unset_bits = 0x7FF8'0000'0000'0B1DU;

bool is_ascii(std::string_view text) {
  unsigned char all = 0;
  for (const char c : text) all = static_cast<unsigned char>(all | static_cast<unsigned char>(c));
  return all < 0x80;
}

class SlabParser {
 public:
  SlabParser(const Slab& slab, const Kernels& kernels, ParseScratch& scratch, Parsed& out)
      : slab_(slab),
        layout_(*slab.layout),
        text_(slab.bytes.data(), slab.size),
        kernels_(kernels),
        stamps_(layout_.stamp),
        out_(out),
        index_(scratch.index),
        rows_(scratch.rows) {
    rows_.clear();
  }

  void run() {
    out_.clear(layout_.rules.size());
    note_long_lines();
    index_.build(text_, layout_.delimiter, slab_.quoted, kernels_);
    read_rows();
    if (layout_.long_form) {
      read_long();
    } else {
      read_columns();
    }
    for (std::size_t c = 0; c < out_.values.size(); ++c) mark_same(out_.values[c], out_.same[c]);
    note_encoding();
    out_.lines = slab_.skipped_lines + index_.physical_lines();
  }

 private:
  [[nodiscard]] std::uint64_t line_of_record(std::size_t r) const {
    return slab_.skipped_lines + index_.line(r);
  }

  void odd_row(Oddity what, std::size_t record, std::string detail) {
    const std::uint64_t line = line_of_record(record);
    if (!out_.rows.empty()) {
      RowOddity& before = out_.rows.back();
      if (before.what == what && before.last_line + 1 >= line && before.row == out_.time.size()) {
        before.last_line = line;
        ++before.count;
        return;
      }
    }
    out_.rows.push_back({what, line, line, 1, out_.time.size(), std::move(detail)});
  }

  void drop(Oddity what, std::size_t record, std::string detail) {
    odd_row(what, record, std::move(detail));
    if (out_.dropped.empty() || out_.dropped.back() != out_.time.size())
      out_.dropped.push_back(out_.time.size());
  }

  void note_long_lines() {
    if (slab_.skipped_lines == 0) return;
    out_.rows.push_back({Oddity::too_long_line, 0, slab_.skipped_lines - 1, slab_.skipped_lines, 0,
                         "longer than a line may be; it was not read"});
    out_.dropped.push_back(0);
  }

  // Finds the good rows and their stamps.
  void read_rows() {
    std::uint32_t begin = 0;
    std::size_t delimiter = 0;
    for (std::size_t r = 0; r < index_.ends().size() && !out_.stopped; ++r) {
      const std::uint32_t line_end = index_.ends()[r];
      const bool crlf = line_end > begin && text_[line_end] == '\n' && text_[line_end - 1] == '\r';
      RowSpan row{begin, line_end - (crlf ? 1U : 0U), static_cast<std::uint32_t>(delimiter)};
      begin = line_end + 1;
      while (delimiter < index_.delimiters().size() && index_.delimiters()[delimiter] < line_end) ++delimiter;
      read_row(r, row, delimiter - row.delimiter + 1);
    }
  }

  [[nodiscard]] std::string_view record_text(const RowSpan& row) const {
    return text_.substr(row.begin, row.end - row.begin);
  }
  [[nodiscard]] std::string_view cell(const RowSpan& row, std::size_t column) const {
    const std::uint32_t from = column == 0 ? row.begin : index_.delimiters()[row.delimiter + column - 1] + 1;
    const std::uint32_t to =
        column + 1 == layout_.columns ? row.end : index_.delimiters()[row.delimiter + column];
    return text_.substr(from, to - from);
  }

  void read_row(std::size_t r, RowSpan row, std::size_t cells) {
    const bool cut = slab_.cut && r + 1 == index_.ends().size();
    if (row.begin == row.end || (cells == 1 && trim(record_text(row)).empty())) return;
    if (cells > layout_.columns && surplus_is_empty(row, cells)) {
      row.end = index_.delimiters()[row.delimiter + layout_.columns - 1];
      cells = layout_.columns;
    }
    if (cells != layout_.columns) {
      wrong_count(r, row, cells, cut);
      return;
    }
    Stamp stamp = stamps_.read(stamp_text(row));
    if (stamp.is == StampIs::unreadable || stamp.is == StampIs::never) {
      no_stamp(r, row, stamp.is, cut);
      return;
    }
    if (cut && last_is_text()) {
      drop(Oddity::cut_last_line, r,
           "no line break at its end: its last cell may be cut; the row was dropped");
      return;
    }
    if (cut)
      odd_row(Oddity::cut_last_line, r, "no line break at its end: its last cell may be cut and is not used");
    if (stamp.is == StampIs::twice) out_.twice.push_back({out_.time.size(), Instant{stamp.second_ns}});
    out_.time.push_back(Instant{stamp.ns});
    out_.line.push_back(line_of_record(r));
    rows_.push_back(row);
  }

  [[nodiscard]] bool last_is_text() const {
    const int channel = layout_.channel_of_column.back();
    return channel >= 0 && layout_.rules[static_cast<std::size_t>(channel)].text;
  }
  [[nodiscard]] bool surplus_is_empty(const RowSpan& row, std::size_t cells) const {
    for (std::size_t i = layout_.columns; i < cells; ++i) {
      const std::uint32_t from = index_.delimiters()[row.delimiter + i - 1] + 1;
      const std::uint32_t to = i + 1 == cells ? row.end : index_.delimiters()[row.delimiter + i];
      if (!trim(text_.substr(from, to - from)).empty()) return false;
    }
    return true;
  }

  std::string_view stamp_text(const RowSpan& row) {
    const std::string_view time = cell_text(trim(cell(row, layout_.time_column)), scratch_);
    if (layout_.date_column < 0) return time;
    joined_.assign(cell_text(trim(cell(row, static_cast<std::size_t>(layout_.date_column))), scratch_));
    joined_ += ' ';
    joined_ += cell_text(trim(cell(row, layout_.time_column)), scratch_);
    return joined_;
  }

  void wrong_count(std::size_t r, const RowSpan& row, std::size_t cells, bool cut) {
    const auto found = [&] { return fmt::format("{} cells, the header has {}", cells, layout_.columns); };
    if (is_other_header(row)) {
      stop_at_header(r);
    } else if (cut) {
      drop(Oddity::cut_last_line, r, "the file ends in the middle of it: " + found());
    } else if (index_.unclosed(r)) {
      drop(Oddity::wrong_field_count, r, "a quotation mark that is never closed, " + found());
    } else {
      drop(Oddity::wrong_field_count, r, found());
    }
  }

  void no_stamp(std::size_t r, const RowSpan& row, StampIs is, bool cut) {
    if (record_text(row) == layout_.header_record) {
      odd_row(Oddity::repeated_header, r, "the header stands here again");
      out_.headers.push_back(out_.time.size());
    } else if (is_other_header(row)) {
      stop_at_header(r);
    } else if (cut) {
      drop(Oddity::cut_last_line, r, "the file ends in the middle of it");
    } else if (is == StampIs::never) {
      drop(Oddity::unreadable_time, r,
           fmt::format("the local time '{}' does not exist: the zone's clocks skip it",
                       shown(stamp_text(row))));
    } else {
      drop(Oddity::unreadable_time, r,
           fmt::format("'{}' is not {}", shown(stamp_text(row)), describe(layout_.stamp)));
    }
  }

  // A line that names the time column like the header does, and is not the header.
  [[nodiscard]] bool is_other_header(const RowSpan& row) const {
    if (layout_.time_header.empty()) return false;
    const std::string_view record = record_text(row);
    if (record.find(layout_.time_header) == std::string_view::npos) return false;
    for (const std::string& text : split_record(record, layout_.delimiter)) {
      if (trim(text) == layout_.time_header) return true;
    }
    return false;
  }

  void stop_at_header(std::size_t r) {
    odd_row(Oddity::contradictory_unit, r,
            "a second header with other columns or units: what follows was not read");
    out_.stopped = true;
  }

  // Tile by tile, so that the cells of a tile stay in the first cache while its columns are read.
  void read_columns() {
    std::vector<std::size_t> numeric;
    for (std::size_t column = 0; column < layout_.columns; ++column) {
      const int channel = layout_.channel_of_column[column];
      if (channel < 0) continue;
      const auto c = static_cast<std::size_t>(channel);
      present_.push_back(channel);
      if (layout_.rules[c].text) {
        read_text(column, c, rows_.size() - (last_cell_cut(column) ? 1 : 0));
      } else {
        out_.values[c].resize(rows_.size());
        numeric.push_back(column);
      }
    }
    for (std::size_t from = 0; from < rows_.size(); from += tile_rows) {
      for (const std::size_t column : numeric) read_tile(column, from);
    }
    fill_absent();
  }

  // Where the cells of a column stand, in rows `from` to `from + tile.rows`.
  void find_cells(std::size_t column, std::size_t from, Tile& tile) const {
    const std::uint32_t* delimiters = index_.delimiters().data();
    const bool last = column + 1 == layout_.columns;
    for (std::size_t i = 0; i < tile.rows; ++i) {
      const RowSpan& row = rows_[from + i];
      std::uint32_t begin = column == 0 ? row.begin : delimiters[row.delimiter + column - 1] + 1;
      std::uint32_t end = last ? row.end : delimiters[row.delimiter + column];
      while (begin < end && text_[begin] == ' ') ++begin;
      if (begin + 1 < end && text_[begin] == '"' && text_[end - 1] == '"') {
        ++begin;
        --end;
      }
      tile.begin[i] = begin;
      tile.length[i] = end - begin;
    }
  }

  // Numbers that mean something else by the channel's rule, for the slow path to say what.
  [[nodiscard]] static std::uint64_t ruled_out(const CellRule& rule, const TileNumbers& numbers,
                                               std::size_t n) {
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

  // To SI; bits of those that are beyond the largest double then.
  [[nodiscard]] static std::uint64_t convert(const CellRule& rule, const TileNumbers& numbers, std::size_t n,
                                             double* to) {
    if (rule.logarithmic) {
      for (std::size_t i = 0; i < n; ++i) to[i] = rule.si(numbers.value[i]);
    } else {
      const double gain = rule.gain;
      const double unit_offset = rule.unit_offset;
      const double factor = rule.factor;
      const double offset = rule.offset_si;
      for (std::size_t i = 0; i < n; ++i) to[i] = gain * ((numbers.value[i] + unit_offset) * factor) + offset;
    }
    double sum = 0;  // NaN as soon as one is not finite
    for (std::size_t i = 0; i < n; ++i) sum += to[i] * 0;
    if (sum == 0) return 0;
    std::uint64_t out = 0;
    for (std::size_t i = 0; i < n; ++i) out |= static_cast<std::uint64_t>(!std::isfinite(to[i])) << i;
    return out;
  }

  void read_tile(std::size_t column, std::size_t from) {
    const auto c = static_cast<std::size_t>(layout_.channel_of_column[column]);
    const CellRule& rule = layout_.rules[c];
    Tile tile;
    tile.rows = std::min(tile_rows, rows_.size() - from);
    find_cells(column, from, tile);
    TileNumbers numbers;
    kernels_.numbers(text_.data(), tile, layout_.style.point, numbers);
    const std::uint64_t all = tile.rows == 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << tile.rows) - 1;
    std::uint64_t slow = numbers.not_read | ruled_out(rule, numbers, tile.rows);
    slow = (slow | convert(rule, numbers, tile.rows, &out_.values[c][from])) & all;
    if (slow != all) note_digits(c, from, numbers);
    const CellReader reader(rule, layout_.style);
    for (; slow != 0; slow &= slow - 1) {
      const std::size_t r = from + static_cast<std::size_t>(std::countr_zero(slow));
      if (r + 1 == rows_.size() && last_cell_cut(column)) {
        out_.values[c][r] = std::nan("");
      } else {
        read_number(reader, cell(rows_[r], column), c, r);
      }
    }
    if (from + tile.rows == rows_.size() && last_cell_cut(column)) out_.values[c].back() = std::nan("");
  }

  // The last cell of a line that has no line break may have lost digits.
  [[nodiscard]] bool last_cell_cut(std::size_t column) const {
    return slab_.cut && column + 1 == layout_.columns && !rows_.empty() &&
           rows_.back().end + 1 == text_.size();
  }

  void read_number(const CellReader& reader, std::string_view text, std::size_t c, std::size_t r) {
    const Cell read = reader.read(text);
    out_.values[c][r] = read.value;
    if (!read.odd) {
      note_digits(c, r, read.decimals, read.significant);
      return;
    }
    if (read.what == Oddity::missing_cell && layout_.logging == plan::Logging::on_change) {
      out_.values[c][r] = unset_cell();
      return;
    }
    odd_cell(read.what, static_cast<int>(c), r, text);
  }

  void note_digits(std::size_t c, std::size_t r, const TileNumbers& numbers) {
    std::uint8_t significant = 0;
    for (std::uint64_t m = numbers.largest_mantissa; m != 0; m /= 10) ++significant;
    note_digits(c, r, static_cast<std::uint8_t>(numbers.most_decimals), significant);
  }

  void note_digits(std::size_t c, std::size_t r, std::uint8_t decimals, std::uint8_t significant) {
    auto& segments = out_.digits[c];
    const std::size_t segment = r / digits_rows;
    if (segments.size() <= segment) segments.resize(segment + 1);
    Parsed::Digits& digits = segments[segment];
    digits.decimals = std::max(digits.decimals, decimals);
    digits.significant = std::max(digits.significant, significant);
  }

  void odd_cell(Oddity what, int channel, std::size_t r, std::string_view text) {
    last_odd_.resize(layout_.rules.size(), none);
    std::size_t& last = last_odd_[static_cast<std::size_t>(channel)];
    if (last != none && out_.cells[last].what == what && out_.cells[last].last_row + 1 == r) {
      out_.cells[last].last_row = r;
      return;
    }
    last = out_.cells.size();
    out_.cells.push_back(
        {what, channel, r, r, text.empty() ? std::string() : fmt::format("'{}'", shown(text))});
  }

  // Channels of the log that this file does not have.
  void fill_absent() {
    const std::size_t n = rows_.size();
    for (std::size_t c = 0; c < layout_.rules.size(); ++c) {
      if (std::find(present_.begin(), present_.end(), static_cast<int>(c)) != present_.end()) continue;
      if (layout_.rules[c].text) continue;
      out_.values[c].assign(n, std::nan(""));
      if (n > 0)
        out_.cells.push_back(
            {Oddity::missing_cell, static_cast<int>(c), 0, n - 1, "the file has no such column"});
    }
  }

  [[nodiscard]] std::string text_value(std::size_t c, std::string_view raw) {
    std::string text = clean(trim(cell_text(trim(raw), scratch_)));
    const auto& renames = layout_.rules[c].renames;
    const auto renamed = renames.find(text);
    return renamed == renames.end() ? text : renamed->second;
  }

  void read_text(std::size_t column, std::size_t c, std::size_t n) {
    std::string_view before;
    const bool holds = layout_.logging == plan::Logging::on_change;
    for (std::size_t r = 0; r < n; ++r) {
      const std::string_view raw = cell(rows_[r], column);
      if (r > 0 && raw == before) continue;
      if (holds && trim(raw).empty()) continue;  // as before
      before = raw;
      std::string text = text_value(c, raw);
      if (out_.texts[c].empty() || out_.texts[c].back().text != text)
        out_.texts[c].push_back({r, std::move(text)});
    }
  }

  // Rows of (time, channel, value): those with one stamp become one row.
  void read_long() {
    std::vector<Instant> time;
    std::vector<std::uint64_t> line;
    std::vector<std::size_t> new_row(rows_.size());
    for (std::size_t r = 0; r < rows_.size(); ++r) {
      const std::string_view name = trim(cell_text(trim(cell(rows_[r], layout_.name_column)), scratch_));
      const auto found = layout_.channel_of_name.find(name);
      const int channel = found == layout_.channel_of_name.end() ? -1 : found->second;
      if (time.empty() || time.back() != out_.time[r] || is_set(channel, time.size() - 1)) {
        time.push_back(out_.time[r]);
        line.push_back(out_.line[r]);
        add_unset_row();
      }
      new_row[r] = time.size() - 1;
      if (channel < 0 || (r + 1 == rows_.size() && last_cell_cut(layout_.value_column))) continue;
      read_long_value(static_cast<std::size_t>(channel), cell(rows_[r], layout_.value_column),
                      time.size() - 1);
    }
    out_.time = std::move(time);
    out_.line = std::move(line);
    renumber(new_row);
  }

  [[nodiscard]] bool is_set(int channel, std::size_t row) const {
    if (channel < 0) return false;
    const auto c = static_cast<std::size_t>(channel);
    if (layout_.rules[c].text) return !out_.texts[c].empty() && out_.texts[c].back().row == row;
    return !is_unset(out_.values[c][row]);
  }
  void add_unset_row() {
    for (std::size_t c = 0; c < layout_.rules.size(); ++c) {
      if (!layout_.rules[c].text) out_.values[c].push_back(unset_cell());
    }
  }
  void read_long_value(std::size_t c, std::string_view raw, std::size_t row) {
    if (layout_.rules[c].text) {
      out_.texts[c].push_back({row, text_value(c, raw)});
      return;
    }
    read_number(CellReader(layout_.rules[c], layout_.style), raw, c, row);
  }
  void renumber(const std::vector<std::size_t>& new_row) {
    const auto to = [&](std::size_t row) { return row < new_row.size() ? new_row[row] : out_.time.size(); };
    for (RowOddity& odd : out_.rows) odd.row = to(odd.row);
    for (std::size_t& row : out_.dropped) row = to(row);
    for (std::size_t& row : out_.headers) row = to(row);
    for (Parsed::Twice& twice : out_.twice) twice.row = to(twice.row);
    const auto same = [](const Parsed::Twice& a, const Parsed::Twice& b) { return a.row == b.row; };
    out_.twice.erase(std::unique(out_.twice.begin(), out_.twice.end(), same), out_.twice.end());
  }

  // Lines that are not UTF-8, hold a NUL, or a mark where a decoder gave up.
  void note_encoding() {
    const bool nul = std::memchr(text_.data(), '\0', text_.size()) != nullptr;
    if (!nul && is_ascii(text_)) return;
    const auto bad = [](std::string_view text) {
      return text.find('\0') != std::string_view::npos ||
             text.find(replacement_character) != std::string_view::npos ||
             first_invalid_utf8(text) != std::string_view::npos;
    };
    if (!bad(text_)) return;
    std::vector<RowOddity> rows = std::exchange(out_.rows, {});
    std::uint32_t begin = 0;
    for (std::size_t r = 0; r < index_.ends().size(); ++r) {
      if (bad(text_.substr(begin, index_.ends()[r] - begin))) {
        odd_row(Oddity::bad_encoding, r, "bytes that are no text; the cells they are in are not used");
      }
      begin = index_.ends()[r] + 1;
    }
    out_.rows.insert(out_.rows.end(), std::make_move_iterator(rows.begin()),
                     std::make_move_iterator(rows.end()));
  }

  static constexpr std::size_t none = static_cast<std::size_t>(-1);
  const Slab& slab_;
  const Layout& layout_;
  std::string_view text_;
  const Kernels& kernels_;
  StampReader stamps_;
  Parsed& out_;
  SlabIndex& index_;
  std::vector<RowSpan>& rows_;
  std::vector<int> present_;
  std::vector<std::size_t> last_odd_;
  std::string scratch_, joined_;
};

}  // namespace

void Parsed::clear(std::size_t channels) {
  time.clear();
  line.clear();
  values.resize(channels);
  for (auto& column : values) column.clear();
  digits.resize(channels);
  same.resize(channels);
  for (auto& segments : digits) segments.clear();
  texts.resize(channels);
  for (auto& changes : texts) changes.clear();
  twice.clear();
  rows.clear();
  cells.clear();
  dropped.clear();
  headers.clear();
  lines = 0;
  stopped = false;
}

double unset_cell() { return std::bit_cast<double>(unset_bits); }
bool is_unset(double value) { return std::bit_cast<std::uint64_t>(value) == unset_bits; }

void parse_slab(const Slab& slab, const Kernels& kernels, ParseScratch& scratch, Parsed& out) {
  SlabParser(slab, kernels, scratch, out).run();
}

}  // namespace vacuary::log
