// The parser of one slab. Its parts are in parse.cpp (what is common), parse_rows.cpp,
// parse_columns.cpp (wide logs) and parse_long.cpp.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "log/cell.hpp"
#include "log/slab.hpp"
#include "log/stamp.hpp"

namespace vacuary::log {

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
    named_units_.resize(layout_.rules.size());
  }

  void run();

 private:
  // What is odd. Lines count from the slab's first.
  [[nodiscard]] std::uint64_t line_of_record(std::size_t r) const;
  void odd_row(Oddity what, std::size_t record, std::string detail);
  void drop(Oddity what, std::size_t record, std::string detail);
  void odd_cell(Oddity what, int channel, std::size_t r, std::string_view text);
  void note_long_lines();
  void note_encoding();

  // Rows.
  void read_rows();
  void read_row(std::size_t r, RowSpan row, std::size_t cells);
  [[nodiscard]] bool last_is_text() const;
  [[nodiscard]] bool says_nothing(const RowSpan& row) const;
  [[nodiscard]] bool surplus_is_empty(const RowSpan& row, std::size_t cells) const;
  std::string_view stamp_text(const RowSpan& row);
  [[nodiscard]] bool is_comment(std::size_t r, const RowSpan& row);
  void wrong_count(std::size_t r, const RowSpan& row, std::size_t cells, bool cut);
  void no_stamp(std::size_t r, const RowSpan& row, StampIs is, bool cut);
  bool is_header_again(std::size_t r, const RowSpan& row);
  [[nodiscard]] std::string_view record_text(const RowSpan& row) const {
    return text_.substr(row.begin, row.end - row.begin);
  }
  [[nodiscard]] std::string_view cell(const RowSpan& row, std::size_t column) const {
    const std::uint32_t from = column == 0 ? row.begin : index_.delimiters()[row.delimiter + column - 1] + 1;
    const std::uint32_t to =
        column + 1 == layout_.columns ? row.end : index_.delimiters()[row.delimiter + column];
    return text_.substr(from, to - from);
  }

  // Columns of a wide log.
  void read_columns();
  void find_cells(std::size_t column, std::size_t from, Tile& tile) const;
  [[nodiscard]] bool strip_cells(Tile& tile) const;
  void read_tile(std::size_t column, std::size_t from);
  [[nodiscard]] bool last_cell_cut(std::size_t column) const;
  [[nodiscard]] std::string_view bad_quality(std::size_t r, int quality_column);
  void read_number(const CellReader& reader, std::string_view text, std::size_t c, std::size_t r,
                   std::string_view unit = {});
  void refuse_number(std::size_t c, std::size_t r, std::string_view quality);
  void note_digits(std::size_t c, std::size_t r, const TileNumbers& numbers);
  void note_digits(std::size_t c, std::size_t r, std::uint8_t decimals, std::uint8_t significant);
  void fill_absent();
  void read_text(std::size_t column, std::size_t c, std::size_t n);
  [[nodiscard]] std::string text_value(std::size_t c, std::string_view raw);
  void mark_rows();

  // Rows of (time, channel, value).
  void read_long();
  void note_unmapped(std::string_view name);
  [[nodiscard]] bool is_set(int channel, std::size_t row) const;
  void add_unset_row();
  void read_long_value(std::size_t c, std::size_t r, std::size_t row);
  void renumber(const std::vector<std::size_t>& new_row);

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
  std::vector<NamedUnit> named_units_;  // by channel
  std::string_view good_;               // the quality cell seen last that was good
};

}  // namespace vacuary::log
