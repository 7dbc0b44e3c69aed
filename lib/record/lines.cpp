#include "record/lines.hpp"

#include <algorithm>
#include <utility>

namespace vacuary::record {

std::vector<Line> split_lines(std::string_view text) {
  std::vector<Line> lines;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find_first_of("\r\n", start), text.size());
    lines.push_back({lines.size() + 1, text.substr(start, end - start)});
    start = end + 1;
    if (end < text.size() && text[end] == '\r' && start < text.size() && text[start] == '\n') ++start;
  }
  return lines;
}

Diagnostic line_fault(const std::string& file, const Line& line, const char* rule, std::string message,
                      std::string remedy) {
  constexpr std::size_t longest_shown = 400;  // a hostile line must not flood the terminal
  Diagnostic d;
  d.rule = rule;
  Place place = Place::whole_file(file);
  place.line = line.number;
  place.line_text = line.text.substr(0, longest_shown);
  d.where = std::move(place);
  d.message = std::move(message);
  d.remedy = std::move(remedy);
  return d;
}

Diagnostic file_fault(const std::string& file, const char* rule, std::string message, std::string remedy) {
  return line_fault(file, Line{}, rule, std::move(message), std::move(remedy));
}

}  // namespace vacuary::record
