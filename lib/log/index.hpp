// Where the delimiters and line ends of a slab are.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "log/kernels.hpp"
#include "log/record.hpp"

namespace vacuary::log {

// Positions in the slab, ascending. A record runs from the end of the one before to its own; a CR
// before a LF belongs to the line end. Kept from slab to slab for its storage.
class SlabIndex {
 public:
  // `text` ends with a line end; 128 bytes behind it are readable. With quotation marks (`quoted`),
  // delimiters and line ends inside quoted cells do not count; the comment mark is looked at only where these
  // go on in another line.
  void build(std::string_view text, RecordMarks marks, bool quoted, const Kernels& kernels);

  [[nodiscard]] std::span<const std::uint32_t> delimiters() const { return delimiters_; }
  [[nodiscard]] std::span<const std::uint32_t> ends() const { return ends_; }  // of LF, or a CR alone
  // Physical line at which record r begins, from 0.
  [[nodiscard]] std::uint64_t line(std::size_t r) const { return lines_.empty() ? r : lines_[r]; }
  [[nodiscard]] std::uint64_t physical_lines() const { return physical_lines_; }
  // Nothing but ASCII, and no NUL.
  [[nodiscard]] bool plain() const { return plain_; }
  // Whether record r has a quotation mark that is never closed.
  [[nodiscard]] bool unclosed(std::size_t r) const;

 private:
  void build_by_records(std::string_view text, RecordMarks marks);
  std::vector<std::uint32_t> delimiter_store_, end_store_, lines_, unclosed_;
  std::span<const std::uint32_t> delimiters_, ends_;
  std::uint64_t physical_lines_ = 0;
  bool plain_ = true;
};

}  // namespace vacuary::log
