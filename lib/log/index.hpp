// Where the delimiters and line ends of a slab are.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

namespace vacuary::log {

// Positions in the slab, ascending. A record runs from the end of the one before to its own; a CR
// before a LF belongs to the line end.
struct SlabIndex {
  std::vector<std::uint32_t> delimiters;
  std::vector<std::uint32_t> ends;      // of the LF, or of a CR that stands alone
  std::vector<std::uint32_t> lines;     // quoted slabs only: physical line of each record, from 0
  std::vector<std::uint32_t> unclosed;  // records with a quotation mark that is never closed
  std::uint64_t physical_lines = 0;
};

// `text` ends with a line end. With quotation marks (`quoted`), delimiters and line ends inside
// quoted cells do not count.
void index_slab(std::string_view text, char delimiter, bool quoted, SlabIndex& out);

}  // namespace vacuary::log
