// The first lines of an export: enough to see its header, units and first row.
#pragma once

#include <array>
#include <memory>
#include <string>
#include <vector>

#include "base/base.hpp"
#include "log/bytes.hpp"
#include "log/record.hpp"

namespace vacuary::log {

inline constexpr std::array known_delimiters = {',', ';', '\t', '|'};

// Records of the first lines, read as far as asked.
class Head {
 public:
  Head(std::filesystem::path path, std::unique_ptr<ByteStream> bytes, std::size_t longest_line)
      : path_(std::move(path)), bytes_(std::move(bytes)), longest_line_(longest_line) {}

  // Reads the first piece and looks whether it is text at all.
  [[nodiscard]] std::optional<Diagnostic> start();

  // The next record that is not blank, or none at the end. `delimiter` 0: physical lines.
  struct Line {
    std::size_t from = 0, end = 0;  // in text()
    std::uint64_t number = 0;       // of its first physical line, from 1
  };
  [[nodiscard]] Result<std::optional<Line>> next(char delimiter, bool blank_too = false);

  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] std::string_view of(const Line& line) const {
    return std::string_view(text_).substr(line.from, line.end - line.from);
  }
  // Where the next record starts; what was read of the file so far ends at text().size().
  [[nodiscard]] std::size_t at() const { return at_; }
  [[nodiscard]] std::uint64_t lines() const { return lines_; }
  // Of the lines that follow; before this is said there are none.
  void comments_begin_with(char mark) { comment_ = mark; }
  void go_back(const Line& line) {
    at_ = line.from;
    lines_ = line.number - 1;
  }
  // A place in the text read so far.
  [[nodiscard]] Place place(std::size_t offset, std::size_t length) const;
  [[nodiscard]] std::unique_ptr<ByteStream> take_bytes() { return std::move(bytes_); }

 private:
  bool read_more();
  std::filesystem::path path_;
  std::unique_ptr<ByteStream> bytes_;
  std::size_t longest_line_;
  char comment_ = '\0';
  std::string text_;
  std::size_t at_ = 0;
  std::uint64_t lines_ = 0;
  bool ended_ = false;
};

// Whether the cells of a line are the header that the map asks for.
[[nodiscard]] bool is_header(std::vector<std::string> cells, const TextForm& form);

// ',', ';' or a tab: what parts the cells of a header; ',' when nothing does.
[[nodiscard]] char find_delimiter(std::string_view header);

// Whether a line above the rows is a comment: it begins with the mark, and is not the header all the same.
// Where blanks part the cells it has tabs.
[[nodiscard]] bool is_comment(std::string_view line, const TextForm& form);

}  // namespace vacuary::log
