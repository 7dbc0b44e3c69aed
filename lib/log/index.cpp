#include "log/index.hpp"

#include "log/record.hpp"

namespace vacuary::log {
namespace {

void index_quoted(std::string_view text, char delimiter, SlabIndex& out) {
  std::size_t at = 0;
  while (at < text.size()) {
    const Record record = next_record(text, at, delimiter, true, &out.delimiters);
    if (record.unclosed) out.unclosed.push_back(static_cast<std::uint32_t>(out.ends.size()));
    out.lines.push_back(static_cast<std::uint32_t>(out.physical_lines));
    out.physical_lines += record.lines;
    out.ends.push_back(static_cast<std::uint32_t>(record.next - 1));
    at = record.next;
  }
}

void index_plain(std::string_view text, char delimiter, SlabIndex& out) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == delimiter) {
      out.delimiters.push_back(static_cast<std::uint32_t>(i));
    } else if (c == '\n' || (c == '\r' && !(i + 1 < text.size() && text[i + 1] == '\n'))) {
      out.ends.push_back(static_cast<std::uint32_t>(i));
    }
  }
  out.physical_lines = out.ends.size();
}

}  // namespace

void index_slab(std::string_view text, char delimiter, bool quoted, SlabIndex& out) {
  out.delimiters.clear();
  out.ends.clear();
  out.lines.clear();
  out.unclosed.clear();
  out.physical_lines = 0;
  if (quoted) {
    index_quoted(text, delimiter, out);
  } else {
    index_plain(text, delimiter, out);
  }
}

}  // namespace vacuary::log
