#include "record/lines.hpp"

#include <algorithm>
#include <utility>

namespace vacuary::record {

bool LineScanner::next(Line& line) {
  if (rest_.empty()) return false;
  const std::size_t end = std::min(rest_.find_first_of("\r\n"), rest_.size());
  line = {++number_, rest_.substr(0, end)};
  const bool two = rest_.substr(end, 2) == "\r\n";
  rest_.remove_prefix(std::min(end + (two ? 2 : 1), rest_.size()));
  return true;
}

std::vector<Line> split_lines(std::string_view text) {
  std::vector<Line> lines;
  LineScanner scanner(text);
  for (Line line; scanner.next(line);) lines.push_back(line);
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
