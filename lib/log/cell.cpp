#include "log/cell.hpp"

#include <algorithm>
#include <cmath>

#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

Cell odd(Oddity what) { return {std::nan(""), what, true, 0, 0}; }

}  // namespace

Cell CellReader::from_number(const ParsedNumber& parsed) const {
  const double number = parsed.value;
  const auto& bad = rule_.bad_values;
  if (std::find(bad.begin(), bad.end(), number) != bad.end()) return odd(Oddity::bad_value);
  if (rule_.overrange && number >= *rule_.overrange) return odd(Oddity::overrange);
  const double value = rule_.si(number);
  if (!std::isfinite(value)) return odd(Oddity::overrange);
  return {value, Oddity::missing_cell, false, parsed.decimals, parsed.significant};
}

Cell CellReader::read(std::string_view text) const {
  std::string scratch;
  text = trim(cell_text(trim(text), scratch));
  const ParsedNumber number = parse_number(text, style_);
  if (number.is == NumberIs::number && rule_.states.empty()) return from_number(number);
  const std::string word(text);
  if (const auto state = rule_.states.find(word); state != rule_.states.end()) {
    return {state->second, Oddity::missing_cell, false, 0, 0};
  }
  const auto& bad = rule_.bad_texts;
  if (std::find(bad.begin(), bad.end(), word) != bad.end()) return odd(Oddity::bad_value);
  switch (number.is) {
    case NumberIs::number:
      return from_number(number);
    case NumberIs::empty:
      return odd(Oddity::missing_cell);
    case NumberIs::nan:
      return odd(Oddity::not_a_number);
    case NumberIs::too_large:
      return odd(Oddity::overrange);
    case NumberIs::unreadable:
      break;
  }
  return odd(Oddity::unreadable_cell);
}

}  // namespace vacuary::log
