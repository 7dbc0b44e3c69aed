// RFC 4180 records: where they end, and the text of their cells.
//
// A quotation mark opens a quoted cell only as the cell's first character, and closes it only
// before a delimiter, a line end or the end of the text; "" inside is one mark. A quoted cell may
// hold line breaks, at most `quoted_lines` of them and `quoted_bytes` bytes, and none if it also
// holds a mark that is neither doubled nor closing: otherwise the mark was no opening one, and the
// cell is read as plain text. So one stray mark damages a few rows and
// never the rest of the log. Lines end with LF, CRLF or a lone CR. A comment is one line: a quotation
// mark in it opens nothing that goes on in the next one.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace vacuary::log {

inline constexpr std::size_t quoted_lines = 64;
inline constexpr std::size_t quoted_bytes = std::size_t{64} << 10U;

struct RecordMarks {
  char delimiter = ',';
  char comment = '\0';  // a record that begins with it is a comment; '\0': none is
};

// One record of `text` from `from`: `end` is its line end (or text.size()), `next` the start of
// the following record, `lines` the physical lines it takes. `complete` is false when the text
// ends first; what it then holds is a record only if nothing follows (`last`).
struct Record {
  std::size_t end = 0;
  std::size_t next = 0;
  std::size_t lines = 1;
  bool complete = false;
  bool unclosed = false;  // has a quotation mark that is never closed
};

// Appends the positions of the record's delimiters to `delimiters` when it is not null.
[[nodiscard]] Record next_record(std::string_view text, std::size_t from, RecordMarks marks, bool last,
                                 std::vector<std::uint32_t>* delimiters = nullptr);

// The text of one cell: quotation marks taken off, "" made one; of ="text" what is in the marks. `scratch`
// holds the text when it had to be changed.
[[nodiscard]] std::string_view cell_text(std::string_view cell, std::string& scratch);

// All cells of a record without its line end.
[[nodiscard]] std::vector<std::string> split_record(std::string_view record, char delimiter);

}  // namespace vacuary::log
