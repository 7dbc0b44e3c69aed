#include "log/cell.hpp"

#include <algorithm>
#include <cmath>

#include "log/record.hpp"
#include "log/words.hpp"

namespace vacuary::log {
namespace {

Cell odd(Oddity what) { return {std::nan(""), what, true, 0, 0}; }

}  // namespace

double factor_of(const Unit& unit, const GasReference& gas) {
  double reference = 1;
  if (unit.kind == Kind::flow) reference = WrittenFlow{unit.basis, 1.0}.resolve(gas).value();
  return unit.factor * reference;
}

bool same_unit(const Unit& a, const Unit& b) {
  return a.kind == b.kind && a.factor == b.factor && a.offset == b.offset && a.basis == b.basis;
}

std::size_t end_of_number(std::string_view text, const NumberStyle& style) {
  const auto is_digit = [&](std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; };
  const auto is_sign = [&](std::size_t i) { return i < text.size() && (text[i] == '+' || text[i] == '-'); };
  constexpr std::string_view minus = "\u2212";
  std::size_t at = is_sign(0) ? 1 : 0;
  if (text.starts_with(minus)) at = minus.size();
  bool any = false;
  for (; at < text.size(); ++at) {
    const bool mark = text[at] == style.point || (style.thousands != '\0' && text[at] == style.thousands);
    if (!is_digit(at) && !(mark && (is_digit(at + 1) || (any && text[at] == style.point)))) break;
    any = any || is_digit(at);
  }
  if (!any) return 0;
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    std::size_t exponent = at + 1 + (is_sign(at + 1) ? 1 : 0);
    if (!is_digit(exponent)) return at;
    while (is_digit(exponent)) ++exponent;
    at = exponent;
  }
  return at;
}

Cell CellReader::judged(const ParsedNumber& parsed, std::optional<double> overrange, double value) const {
  if (parsed.is == NumberIs::too_large) return odd(Oddity::overrange);
  const auto& bad = rule_.bad_values;
  if (std::find(bad.begin(), bad.end(), parsed.value) != bad.end()) return odd(Oddity::bad_value);
  if (overrange && parsed.value >= *overrange) return odd(Oddity::overrange);
  if (!std::isfinite(value)) return odd(Oddity::overrange);
  return {value, Oddity::missing_cell, false, parsed.decimals, parsed.significant};
}

Cell CellReader::from_number(const ParsedNumber& parsed) const {
  return judged(parsed, rule_.overrange, rule_.si(parsed.value));
}

// What a number is in a unit that stands beside it. (The digits of another unit than the channel's say
// nothing of how finely the channel is shown.)
Cell CellReader::in_unit(const ParsedNumber& parsed, std::string_view unit) const {
  if (last_.text != unit) {
    last_ = {std::string(unit), std::nullopt, Oddity::unreadable_cell};
    const auto read = parse_unit(unit, rule_.unit->kind);
    if (const auto* own = std::get_if<Unit>(&read)) {
      last_.unit = *own;
    } else if (std::holds_alternative<std::vector<Unit>>(parse_unit_of_any_kind(unit))) {
      last_.if_none = Oddity::contradictory_unit;
    }
  }
  if (!last_.unit) return odd(last_.if_none);
  const Unit& own = *last_.unit;
  if (same_unit(own, *rule_.unit)) return from_number(parsed);
  Linear linear = rule_.linear;
  linear.factor = factor_of(own, layout_.gas);
  linear.unit_offset = own.offset;
  std::optional<double> overrange = rule_.overrange;
  if (overrange)
    overrange =
        (*overrange + rule_.linear.unit_offset) * rule_.linear.factor / linear.factor - linear.unit_offset;
  Cell cell = judged(parsed, overrange, linear.si(parsed.value));
  cell.decimals = cell.significant = 0;
  return cell;
}

Cell CellReader::read(std::string_view text, std::string_view unit) const {
  std::string scratch;
  text = trim(cell_text(trim(text), scratch));
  ParsedNumber number = parse_number(text, layout_.style);
  if (number.is != NumberIs::number || !rule_.states.empty()) {
    const std::string word(text);
    if (const auto state = rule_.states.find(word); state != rule_.states.end()) {
      return {state->second, Oddity::missing_cell, false, 0, 0};
    }
    const auto& bad = rule_.bad_texts;
    if (std::find(bad.begin(), bad.end(), word) != bad.end()) return odd(Oddity::bad_value);
  }
  if (number.is == NumberIs::unreadable && rule_.unit) {
    const std::size_t end = end_of_number(text, layout_.style);
    if (end > 0 && end < text.size()) {
      number = parse_number(text.substr(0, end), layout_.style);
      unit = trim(text.substr(end));
    }
  }
  switch (number.is) {
    case NumberIs::number:
    case NumberIs::too_large:
      return unit.empty() || !rule_.unit ? from_number(number) : in_unit(number, unit);
    case NumberIs::empty:
      return odd(Oddity::missing_cell);
    case NumberIs::nan:
      return odd(Oddity::not_a_number);
    case NumberIs::unreadable:
      break;
  }
  return odd(Oddity::unreadable_cell);
}

}  // namespace vacuary::log
