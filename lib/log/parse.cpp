// A slab to columns of values and stamps: what is common to all forms.
#include "log/parse.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <limits>
#include <utility>

#include "log/watch.hpp"
#include "log/words.hpp"

namespace vacuary::log {

namespace {

constexpr std::uint64_t unset_bits = 0x7FF8'0000'0000'0B1DU;

}  // namespace

void SlabParser::run() {
  out_.clear(layout_.rules.size());
  note_long_lines();
  index_.build(text_, layout_.marks(), slab_.quoted, kernels_);
  read_rows();
  if (layout_.long_form) {
    read_long();
  } else {
    read_columns();
  }
  for (std::size_t c = 0; c < out_.block.values.size(); ++c)
    mark_same(kernels_, out_.block.values[c], out_.same[c]);
  note_encoding();
  out_.note_distances();
  out_.lines = slab_.skipped_lines + index_.physical_lines();
}

std::uint64_t SlabParser::line_of_record(std::size_t r) const { return slab_.skipped_lines + index_.line(r); }

void SlabParser::odd_row(Oddity what, std::size_t record, std::string detail) {
  const std::uint64_t line = line_of_record(record);
  if (!out_.rows.empty()) {
    RowOddity& before = out_.rows.back();
    if (before.what == what && before.last_line + 1 >= line && before.row == out_.block.time.size()) {
      before.last_line = line;
      ++before.count;
      return;
    }
  }
  out_.rows.push_back({what, line, line, 1, out_.block.time.size(), std::move(detail)});
}

void SlabParser::drop(Oddity what, std::size_t record, std::string detail) {
  odd_row(what, record, std::move(detail));
  if (out_.dropped.empty() || out_.dropped.back() != out_.block.time.size())
    out_.dropped.push_back(out_.block.time.size());
}

void SlabParser::odd_cell(Oddity what, int channel, std::size_t r, std::string_view text) {
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

void SlabParser::note_long_lines() {
  if (slab_.skipped_lines == 0) return;
  out_.rows.push_back({Oddity::too_long_line, 0, slab_.skipped_lines - 1, slab_.skipped_lines, 0,
                       "longer than a line may be; it was not read"});
  out_.dropped.push_back(0);
}

// Lines that are not UTF-8, hold a NUL, or a mark where a decoder gave up.
void SlabParser::note_encoding() {
  if (index_.plain()) return;
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

void Parsed::note_distances() {
  nearest_ns = std::numeric_limits<std::int64_t>::max();
  furthest_ns = 0;
  for (std::size_t i = 1; i < block.time.size(); ++i) {
    const std::int64_t distance = block.time[i].ns - block.time[i - 1].ns;
    nearest_ns = std::min(nearest_ns, distance);
    furthest_ns = std::max(furthest_ns, distance);
  }
}

void Parsed::clear(std::size_t channels) {
  block.time.clear();
  block.line.clear();
  block.values.resize(channels);  // each column is sized, and every row of it written, when it is read
  block.texts.resize(channels);
  for (auto& changes : block.texts) changes.clear();
  block.events.clear();
  block.breaks.clear();
  block.parts.clear();
  digits.resize(channels);
  same.resize(channels);
  for (auto& segments : digits) segments.clear();
  mark.clear();
  twice.clear();
  rows.clear();
  cells.clear();
  dropped.clear();
  headers.clear();
  unmapped.clear();
  lines = 0;
  stopped = false;
}

double unset_cell() { return std::bit_cast<double>(unset_bits); }
bool is_unset(double value) { return std::bit_cast<std::uint64_t>(value) == unset_bits; }

void parse_slab(const Kernels& kernels, ParseScratch& scratch, Parsed& out) {
  SlabParser(scratch.slab, kernels, scratch, out).run();
}

}  // namespace vacuary::log
