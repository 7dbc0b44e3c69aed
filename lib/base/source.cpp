#include "base/source.hpp"

#include <algorithm>

namespace vacuary {
namespace {

bool starts_code_point(char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }

constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

// The first byte of text that a person sees: a byte-order mark is no column.
std::size_t text_start(const std::string& bytes) {
  return std::string_view(bytes).substr(0, 3) == byte_order_mark ? byte_order_mark.size() : 0;
}

}  // namespace

Source::Source(std::string name, std::string bytes) : name_(std::move(name)), bytes_(std::move(bytes)) {}

std::size_t Source::offset_of(std::size_t line, std::size_t column) const {
  std::size_t at = text_start(bytes_);
  for (std::size_t n = 1; n < line; ++n) {
    const std::size_t end = bytes_.find('\n', at);
    if (end == std::string::npos) return bytes_.size();
    at = end + 1;
  }
  for (std::size_t n = 1; n < column && at < bytes_.size() && bytes_[at] != '\n'; ++n) {
    ++at;
    while (at < bytes_.size() && !starts_code_point(bytes_[at])) ++at;
  }
  return at;
}

Place Source::place(std::size_t offset, std::size_t length) const {
  const std::size_t start = text_start(bytes_);
  offset = std::clamp(offset, std::min(start, bytes_.size()), bytes_.size());
  std::size_t line_start = start;
  Place place;
  place.file = name_;
  place.line = 1;
  for (std::size_t i = start; i < offset; ++i) {
    if (bytes_[i] == '\n') {
      ++place.line;
      line_start = i + 1;
    }
  }
  std::size_t line_end = std::min(bytes_.find('\n', offset), bytes_.size());
  if (line_end > line_start && bytes_[line_end - 1] == '\r') --line_end;
  const auto count = [&](std::size_t from, std::size_t to) {
    return static_cast<std::uint32_t>(std::count_if(bytes_.begin() + static_cast<std::ptrdiff_t>(from),
                                                    bytes_.begin() + static_cast<std::ptrdiff_t>(to),
                                                    starts_code_point));
  };
  const std::size_t caret = std::min(offset, line_end);
  place.column = count(line_start, caret) + 1;
  place.width = std::max(1U, count(caret, std::clamp(offset + length, caret, line_end)));
  place.line_text = bytes_.substr(line_start, line_end - line_start);
  return place;
}

std::optional<Place> Region::place() const {
  if (!source) return std::nullopt;
  return source->place(offset, length);
}

Region Region::part(std::size_t offset_in, std::size_t length_in) const {
  const std::size_t from = std::min(offset_in, length);
  return Region{source, offset + from, std::min(length_in, length - from)};
}

}  // namespace vacuary
