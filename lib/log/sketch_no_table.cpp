// Exports that are no tables, called what they are.
#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "log/bytes.hpp"
#include "log/head.hpp"
#include "log/record.hpp"
#include "log/sketch.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

// Of the lines that are not blank, whether this holds for more than half, at least three.
template <class F>
bool mostly(const std::vector<std::string_view>& lines, F holds) {
  std::size_t all = 0, such = 0;
  for (const std::string_view line : lines) {
    if (trim(line).empty()) continue;
    ++all;
    such += holds(line) ? 1U : 0U;
  }
  return such >= 3 && 2 * such > all;
}

bool holds_no_value(std::string_view line) {
  return std::none_of(known_delimiters.begin(), known_delimiters.end(), [line](char delimiter) {
    const Cells cells = split_record(line, delimiter);
    return std::any_of(cells.begin(), cells.end(),
                       [](const std::string& cell) { return is_value(trim(cell)); });
  });
}

bool is_quoted_as_a_whole(std::string_view line) {
  line = trim(line);
  if (line.size() < 3 || line.front() != '"' || line.back() != '"') return false;
  const bool one_cell = std::all_of(known_delimiters.begin(), known_delimiters.end(), [&](char delimiter) {
    return split_record(line, delimiter).size() == 1;
  });
  return one_cell && line.find_first_of(std::string_view(known_delimiters.data(), known_delimiters.size())) !=
                         std::string_view::npos;
}

// "P=0.5": the words of a line that are such, between whatever parts them.
std::vector<std::string_view> named_values(std::string_view line) {
  std::vector<std::string_view> out;
  constexpr std::string_view parts = " ,;|\t";
  while (!line.empty()) {
    const std::size_t end = std::min(line.find_first_of(parts), line.size());
    const std::string_view word = line.substr(0, end);
    const std::size_t sign = word.find('=');
    const bool name = sign != std::string_view::npos && sign > 0 && word.find_first_of("<>!\"") >= sign;
    if (name && sign + 1 < word.size() && !is_value(word.substr(0, sign))) out.push_back(word);
    line.remove_prefix(std::min(end + 1, line.size()));
  }
  return out;
}

}  // namespace

const char* kind_of_no_table(std::string_view text) {
  if (text.starts_with("{") || text.starts_with("[{") || text.starts_with("[[")) return "JSON";
  for (const char* mark : {"<?xml", "<!DOCTYPE", "<!doctype", "<html", "<HTML", "<table", "<TABLE"})
    if (text.starts_with(mark)) return "HTML or XML";
  if (text.starts_with("PK\x03\x04")) return "a spreadsheet's workbook or a zip archive";
  if (text.starts_with("%PDF")) return "a PDF document";
  return nullptr;
}

bool hold_no_values(const std::vector<std::string_view>& lines) { return mostly(lines, holds_no_value); }

std::optional<Diagnostic> no_table(const std::filesystem::path& file,
                                   const std::vector<std::string_view>& lines) {
  if (mostly(lines, is_quoted_as_a_whole))
    return log_failure(
        file, "each row stands in quotation marks as a whole",
        "export it without them, or take them off: sed 's/^\"//; s/\"$//; s/\"\"/\"/g' LOG > TABLE");
  if (mostly(lines, [](std::string_view line) { return named_values(line).size() >= 2; })) {
    std::string_view example;
    for (const std::string_view line : lines) {
      const auto words = named_values(line);
      if (example.empty() && words.size() >= 2) example = words[words.front().starts_with("time") ? 1 : 0];
    }
    return log_failure(
        file,
        fmt::format("these are lines of names with their values, such as \"{}\"", comment_text(example)),
        "export a table: the names in one line, their values in the lines below");
  }
  return std::nullopt;
}

}  // namespace vacuary::log
