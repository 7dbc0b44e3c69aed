#include "log/record.hpp"

#include <algorithm>

namespace vacuary::log {
namespace {

bool ends_line(char c) { return c == '\n' || c == '\r'; }

enum class Quoted : std::uint8_t { closed, never_closed, text_ends };

// From the opening mark at `at` to just behind the closing one.
Quoted skip_quoted(std::string_view text, std::size_t& at, char delimiter, bool last, std::size_t& lines) {
  const std::size_t from = at + 1;
  std::size_t breaks = 0;
  bool stray = false;
  for (std::size_t i = from; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '"') {
      if (i + 1 == text.size()) {
        if (!last) return Quoted::text_ends;
      } else if (text[i + 1] == '"') {
        ++i;
        continue;
      } else if (text[i + 1] != delimiter && !ends_line(text[i + 1])) {
        stray = true;
        if (breaks > 0) return Quoted::never_closed;
        continue;
      }
      at = i + 1;
      lines += breaks;
      return Quoted::closed;
    }
    if (c == '\n' || (c == '\r' && !(i + 1 < text.size() && text[i + 1] == '\n'))) ++breaks;
    if (breaks > (stray ? 0 : quoted_lines) || i - from > quoted_bytes) return Quoted::never_closed;
  }
  return last ? Quoted::never_closed : Quoted::text_ends;
}

// As if nothing followed the line.
Record comment_line(std::string_view text, std::size_t from, char delimiter, bool last,
                    std::vector<std::uint32_t>* delimiters) {
  const std::size_t end = std::min(text.find_first_of("\r\n", from), text.size());
  const bool known = end + 1 < text.size() || (end < text.size() && (text[end] == '\n' || last));
  const std::size_t line_end = end + (text.substr(end, 2) == "\r\n" ? 2 : end < text.size() ? 1 : 0);
  Record record = next_record(text.substr(0, line_end), from, {delimiter}, true, delimiters);
  record.complete = known;
  return record;
}

}  // namespace

Record next_record(std::string_view text, std::size_t from, RecordMarks marks, bool last,
                   std::vector<std::uint32_t>* delimiters) {
  const char delimiter = marks.delimiter;
  if (marks.comment != '\0' && from < text.size() && text[from] == marks.comment)
    return comment_line(text, from, delimiter, last, delimiters);
  Record record;
  bool at_start = true;
  std::size_t i = from;
  while (i < text.size()) {
    const char c = text[i];
    if (at_start && c == '"') {
      const Quoted quoted = skip_quoted(text, i, delimiter, last, record.lines);
      if (quoted == Quoted::text_ends) break;
      if (quoted == Quoted::never_closed) {
        record.unclosed = true;
        ++i;
      }
      at_start = false;
      continue;
    }
    at_start = c == delimiter;
    if (at_start) {
      if (delimiters != nullptr) delimiters->push_back(static_cast<std::uint32_t>(i));
    } else if (ends_line(c)) {
      if (c == '\r' && i + 1 == text.size() && !last) break;
      record.end = i;
      record.next = i + (c == '\r' && i + 1 < text.size() && text[i + 1] == '\n' ? 2 : 1);
      record.complete = true;
      return record;
    }
    ++i;
  }
  record.end = record.next = text.size();
  return record;
}

namespace {

// ="5.1": so that a spreadsheet takes it for text.
std::string_view without_formula(std::string_view cell) {
  const bool is_one = cell.size() >= 3 && cell.starts_with("=\"") && cell.back() == '"';
  return is_one ? cell.substr(2, cell.size() - 3) : cell;
}

}  // namespace

std::string_view cell_text(std::string_view cell, std::string& scratch) {
  if (cell.size() < 2 || cell.front() != '"' || cell.back() != '"') return without_formula(cell);
  cell = cell.substr(1, cell.size() - 2);
  if (cell.find('"') == std::string_view::npos) return cell;
  scratch.clear();
  for (std::size_t i = 0; i < cell.size(); ++i) {
    scratch.push_back(cell[i]);
    if (cell[i] == '"' && i + 1 < cell.size() && cell[i + 1] == '"') ++i;
  }
  return without_formula(scratch);
}

std::vector<std::string> split_record(std::string_view record, char delimiter) {
  std::vector<std::uint32_t> delimiters;
  std::vector<std::string> cells;
  const Record whole = next_record(record, 0, {delimiter}, true, &delimiters);
  std::string scratch;
  std::size_t from = 0;
  for (const std::uint32_t at : delimiters) {
    cells.emplace_back(cell_text(record.substr(from, at - from), scratch));
    from = at + 1;
  }
  cells.emplace_back(cell_text(record.substr(from, whole.end - from), scratch));
  return cells;
}

}  // namespace vacuary::log
