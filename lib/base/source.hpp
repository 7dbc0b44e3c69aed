// A text file in memory that can say where any of its bytes is, line and column.
//
// Line and column are worked out only when somebody asks, that is, when there is an error.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>

#include "base/diagnostic.hpp"

namespace vacuary {

class Source {
 public:
  // `name` is what the user called the file; `bytes` are its bytes as received.
  Source(std::string name, std::string bytes);

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] const std::string& bytes() const { return bytes_; }

  // Offset of the first byte of `line` (from 1) plus `column - 1` code points; clamped to the
  // end of that line, and to the end of the text.
  [[nodiscard]] std::size_t offset_of(std::size_t line, std::size_t column) const;

  // The place of `length` bytes from `offset`; the caret never runs past the end of the line.
  [[nodiscard]] Place place(std::size_t offset, std::size_t length = 1) const;

 private:
  std::string name_;
  std::string bytes_;
};

// A run of bytes of a source; keeps the source alive. An empty pointer means "nowhere": a value
// that no file states (a default).
struct Region {
  std::shared_ptr<const Source> source;
  std::size_t offset = 0;
  std::size_t length = 0;

  [[nodiscard]] std::optional<Place> place() const;
  // The region `length` bytes long that starts `offset` bytes into this one.
  [[nodiscard]] Region part(std::size_t offset_in, std::size_t length_in) const;
};

}  // namespace vacuary
