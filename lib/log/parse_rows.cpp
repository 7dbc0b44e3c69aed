// The rows of a slab: which are whole, and when they were written.
#include <fmt/format.h>

#include <utility>

#include "log/header_again.hpp"
#include "log/parse.hpp"
#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {
// Finds the good rows and their stamps.
void SlabParser::read_rows() {
  const std::span<const std::uint32_t> delimiters = index_.delimiters();
  const std::size_t usual = layout_.columns - 1;  // delimiters of a row
  out_.block.time.reserve(index_.ends().size());
  out_.block.line.reserve(index_.ends().size());
  rows_.reserve(index_.ends().size());
  std::uint32_t begin = 0;
  std::size_t delimiter = 0;
  for (std::size_t r = 0; r < index_.ends().size() && !out_.stopped; ++r) {
    const std::uint32_t line_end = index_.ends()[r];
    const bool crlf = line_end > begin && text_[line_end] == '\n' && text_[line_end - 1] == '\r';
    RowSpan row{begin, line_end - (crlf ? 1U : 0U), static_cast<std::uint32_t>(delimiter)};
    begin = line_end + 1;
    const std::size_t last = delimiter + usual;
    const bool as_usual = last <= delimiters.size() && (usual == 0 || delimiters[last - 1] < line_end) &&
                          (last == delimiters.size() || delimiters[last] > line_end);
    if (as_usual) {
      delimiter = last;
    } else {
      while (delimiter < delimiters.size() && delimiters[delimiter] < line_end) ++delimiter;
    }
    read_row(r, row, delimiter - row.delimiter + 1);
  }
}

void SlabParser::read_row(std::size_t r, RowSpan row, std::size_t cells) {
  const bool cut = slab_.cut && r + 1 == index_.ends().size();
  if (row.begin == row.end || (cells == 1 && trim(record_text(row)).empty())) return;
  if (text_[row.begin] == layout_.comment && is_comment(r, row)) return;
  if (cells > layout_.columns && surplus_is_empty(row, cells)) {
    row.end = index_.delimiters()[row.delimiter + layout_.columns - 1];
    cells = layout_.columns;
  }
  if (cells != layout_.columns) {
    wrong_count(r, row, cells, cut);
    return;
  }
  if (layout_.own_times && says_nothing(row)) return;
  Stamp stamp = stamps_.read(stamp_text(row));
  if (stamp.is != StampIs::unique && stamp.is != StampIs::twice) {
    no_stamp(r, row, stamp.is, cut);
    return;
  }
  if (cut && (last_is_text() || layout_.newest_first)) {
    drop(Oddity::cut_last_line, r, "no line break at its end: its last cell may be cut; the row was dropped");
    return;
  }
  if (cut)
    odd_row(Oddity::cut_last_line, r, "no line break at its end: its last cell may be cut and is not used");
  if (stamp.is == StampIs::twice) out_.twice.push_back({out_.block.time.size(), Instant{stamp.second_ns}});
  out_.block.time.push_back(Instant{stamp.ns});
  out_.block.line.push_back(line_of_record(r));
  rows_.push_back(row);
}

// No stamp and no value: columns with their own stamps are of different lengths.
bool SlabParser::says_nothing(const RowSpan& row) const {
  if (!trim(cell(row, layout_.time_column)).empty()) return false;
  for (std::size_t column = 0; column < layout_.columns; ++column) {
    if (layout_.channel_of_column[column] >= 0 && !trim(cell(row, column)).empty()) return false;
  }
  return true;
}

bool SlabParser::last_is_text() const {
  const int channel = layout_.channel_of_column.back();
  return channel >= 0 && layout_.rules[static_cast<std::size_t>(channel)].text;
}
bool SlabParser::surplus_is_empty(const RowSpan& row, std::size_t cells) const {
  for (std::size_t i = layout_.columns; i < cells; ++i) {
    const std::uint32_t from = index_.delimiters()[row.delimiter + i - 1] + 1;
    const std::uint32_t to = i + 1 == cells ? row.end : index_.delimiters()[row.delimiter + i];
    if (!trim(text_.substr(from, to - from)).empty()) return false;
  }
  return true;
}

std::string_view SlabParser::stamp_text(const RowSpan& row) {
  std::string_view time = cell(row, layout_.time_column);
  const bool plain = !time.empty() && time.front() > '"' && time.back() > '"';  // no blanks, no marks
  if (!plain) time = cell_text(trim(time), scratch_);
  if (layout_.time_parts.empty()) return time;
  joined_ = joined_stamp(layout_.time_parts,
                         [&](std::size_t part) { return cell_text(trim(cell(row, part)), scratch_); });
  return joined_;
}

// A line that says of itself that it is no row, whatever stands in it; but for a header that begins so.
bool SlabParser::is_comment(std::size_t r, const RowSpan& row) {
  if (layout_.comment == '\0' || !record_text(row).starts_with(layout_.comment)) return false;
  if (layout_.marked_header && header_again(record_text(row), layout_).is != HeaderAgain::Is::none)
    return false;
  odd_row(Oddity::comment_line, r, fmt::format("'{}'", shown(record_text(row))));
  return true;
}

void SlabParser::wrong_count(std::size_t r, const RowSpan& row, std::size_t cells, bool cut) {
  const auto found = [&] { return fmt::format("{} cells, the header has {}", cells, layout_.columns); };
  if (is_header_again(r, row)) {
    return;
  }
  if (cut) {
    drop(Oddity::cut_last_line, r, "the file ends in the middle of it: " + found());
  } else if (index_.unclosed(r)) {
    drop(Oddity::wrong_field_count, r, "a quotation mark that is never closed, " + found());
  } else {
    drop(Oddity::wrong_field_count, r, found());
  }
}

void SlabParser::no_stamp(std::size_t r, const RowSpan& row, StampIs is, bool cut) {
  if (is_header_again(r, row)) {
    return;
  }
  if (cut) {
    drop(Oddity::cut_last_line, r, "the file ends in the middle of it");
  } else if (is == StampIs::far) {
    drop(Oddity::unreadable_time, r,
         fmt::format("'{}' is no time of the years 1970 to 2149", shown(stamp_text(row))));
  } else if (is == StampIs::never) {
    drop(
        Oddity::unreadable_time, r,
        fmt::format("the local time '{}' does not exist: the zone's clocks skip it", shown(stamp_text(row))));
  } else {
    drop(Oddity::unreadable_time, r,
         fmt::format("'{}' is not {}", shown(stamp_text(row)), describe(layout_.stamp)));
  }
}

bool SlabParser::is_header_again(std::size_t r, const RowSpan& row) {
  const HeaderAgain found = header_again(record_text(row), layout_);
  switch (found.is) {
    case HeaderAgain::Is::none:
      return false;
    case HeaderAgain::Is::same:
      odd_row(Oddity::repeated_header, r, found.detail);
      out_.headers.push_back(out_.block.time.size());
      return true;
    case HeaderAgain::Is::other:
      odd_row(Oddity::contradictory_unit, r, found.detail);
      out_.stopped = true;
      return true;
  }
  return false;
}

}  // namespace vacuary::log
