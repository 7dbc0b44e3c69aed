// Lines of the small text files of a record. Private to the room.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/diagnostic.hpp"

namespace vacuary::record {

struct Line {
  std::uint64_t number = 0;  // from 1; 0 stands for the file as a whole
  std::string_view text;     // without its line break
};

// Lines end with LF, CR or CRLF; the last may lack its end.
[[nodiscard]] std::vector<Line> split_lines(std::string_view text);

// The same one after the other, for texts that may be large: a hostile file of nothing but line ends must
// not become a hundred million entries of a list.
class LineScanner {
 public:
  explicit LineScanner(std::string_view text) : rest_(text) {}
  [[nodiscard]] bool next(Line& line);

 private:
  std::string_view rest_;
  std::uint64_t number_ = 0;
};

[[nodiscard]] Diagnostic line_fault(const std::string& file, const Line& line, const char* rule,
                                    std::string message, std::string remedy);
[[nodiscard]] Diagnostic file_fault(const std::string& file, const char* rule, std::string message,
                                    std::string remedy);

}  // namespace vacuary::record
