#include "log/index.hpp"

#include <algorithm>

namespace vacuary::log {

void SlabIndex::build(std::string_view text, RecordMarks marks, bool quoted, const Kernels& kernels) {
  lines_.clear();
  unclosed_.clear();
  const std::size_t room = text.size() + 64;
  if (delimiter_store_.size() < room) delimiter_store_.resize(room);
  if (end_store_.size() < room) end_store_.resize(room);
  Positions found{delimiter_store_.data(), 0, end_store_.data(), 0};
  if (quoted) {
    if (!kernels.index_quoted(text.data(), text.size(), marks.delimiter, found)) {
      build_by_records(text, marks);
      plain_ = std::none_of(text.begin(), text.end(), [](char c) { return c == '\0' || (c & 0x80) != 0; });
      return;
    }
  } else {
    kernels.index(text.data(), text.size(), marks.delimiter, found);
  }
  delimiters_ = {found.delimiters, found.delimiter_count};
  ends_ = {found.ends, found.end_count};
  physical_lines_ = found.end_count;
  plain_ = found.ascii && !found.nul;
}

void SlabIndex::build_by_records(std::string_view text, RecordMarks marks) {
  delimiter_store_.clear();
  end_store_.clear();
  physical_lines_ = 0;
  std::size_t at = 0;
  while (at < text.size()) {
    const Record record = next_record(text, at, marks, true, &delimiter_store_);
    if (record.unclosed) unclosed_.push_back(static_cast<std::uint32_t>(end_store_.size()));
    lines_.push_back(static_cast<std::uint32_t>(physical_lines_));
    physical_lines_ += record.lines;
    end_store_.push_back(static_cast<std::uint32_t>(record.next - 1));
    at = record.next;
  }
  delimiters_ = delimiter_store_;
  ends_ = end_store_;
}

bool SlabIndex::unclosed(std::size_t r) const {
  return std::binary_search(unclosed_.begin(), unclosed_.end(), static_cast<std::uint32_t>(r));
}

}  // namespace vacuary::log
