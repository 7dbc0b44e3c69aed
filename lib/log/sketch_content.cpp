// What the cells of a column hold, and texts as a map has them.
#include <fmt/format.h>

#include <algorithm>

#include "log/cell.hpp"
#include "log/sketch.hpp"

namespace vacuary::log {

bool like_number(std::string_view word) {
  const std::size_t at = word.find_first_not_of("+-., <>=~");
  return at != std::string_view::npos && word[at] >= '0' && word[at] <= '9';
}

std::string toml_text(std::string_view text) {
  std::string out = "\"";
  for (const char c : clean(text)) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') out += '\\';
    if (c == '\n') {
      out += "\\n";
    } else if (u < 0x20 || u == 0x7F) {
      out += fmt::format("\\u{:04X}", u);
    } else {
      out += c;
    }
  }
  return out + "\"";
}

std::string comment_text(std::string_view text) {
  std::string out = clean(text.substr(0, 80));
  for (char& c : out) {
    const auto u = static_cast<unsigned char>(c);
    if (u < 0x20 || u == 0x7F) c = '?';
  }
  return out;
}

void Content::add(std::string_view cell, const NumberStyle& style) {
  ParsedNumber number = parse_number(cell, style);
  if (number.is == NumberIs::unreadable) {
    const std::size_t end = end_of_number(cell, style);
    const std::string_view unit = trim(cell.substr(end));
    if (end > 0 && is_unit(unit)) {
      number = parse_number(cell.substr(0, end), style);
      if (std::find(units.begin(), units.end(), unit) == units.end() && units.size() < 4)
        units.emplace_back(unit);
    }
  }
  if (number.is == NumberIs::number) {
    least = numbers == 0 ? number.value : std::min(least, number.value);
    most = numbers == 0 ? number.value : std::max(most, number.value);
    ++numbers;
    if (!many_numbers) note_number(std::string(cell));
    return;
  }
  if (number.is != NumberIs::unreadable) return;
  const bool like = like_number(cell);
  ++(like ? broken : texts);
  if (std::find(words.begin(), words.end(), cell) != words.end()) return;
  // So that a column full of damage does not hide the one text for "no value".
  const auto same = std::count_if(words.begin(), words.end(),
                                  [like](const std::string& word) { return like_number(word) == like; });
  const bool room = static_cast<std::size_t>(same) < most_words;
  if (room) words.push_back(clean(cell));
  more_words = more_words || (!room && !like);
}

void Content::note_number(const std::string& text) {
  if (many_numbers || std::find(few_numbers.begin(), few_numbers.end(), text) != few_numbers.end()) return;
  many_numbers = few_numbers.size() == most_steps;
  if (!many_numbers) few_numbers.push_back(text);
}

void Content::add(const Content& other) {
  many_numbers = many_numbers || other.many_numbers;
  for (const std::string& text : other.few_numbers) note_number(text);
  if (other.numbers > 0) {
    least = numbers == 0 ? other.least : std::min(least, other.least);
    most = numbers == 0 ? other.most : std::max(most, other.most);
  }
  numbers += other.numbers;
  texts += other.texts;
  broken += other.broken;
  add_words(other);
  for (const std::string& unit : other.units) {
    if (std::find(units.begin(), units.end(), unit) == units.end() && units.size() < 4) units.push_back(unit);
  }
}

void Content::add_words(const Content& other) {
  more_words = more_words || other.more_words;
  for (const std::string& word : other.words) {
    if (std::find(words.begin(), words.end(), word) != words.end()) continue;
    if (words.size() < 2 * most_words) words.push_back(word);
  }
}

}  // namespace vacuary::log
