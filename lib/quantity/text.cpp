#include "quantity/text.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <stdexcept>

#include "quantity/symbols.hpp"

namespace vacuary::detail {
namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::string expected(Kind kind) {
  const bool vowel = std::string_view("aeiou").find(name(kind)[0]) != std::string_view::npos;
  return fmt::format("{} {}", vowel ? "an" : "a", name(kind));
}

std::string like(Kind kind) { return fmt::format("write it like \"{}\"", example(kind)); }

struct Number {
  double value = 0;
  std::size_t begin = 0;
  std::size_t end = 0;  // one past its last byte
};

// A number that from_chars cannot hold: whether it is too large (not too small).
bool too_large(std::string_view digits) {
  long before_point = 0;
  bool point = false;
  bool seen = false;
  std::size_t i = 0;
  for (; i < digits.size() && digits[i] != 'e' && digits[i] != 'E'; ++i) {
    if (digits[i] == '.') {
      point = true;
      continue;
    }
    seen = seen || (is_digit(digits[i]) && digits[i] != '0');
    if (!point && seen) ++before_point;
    if (point && !seen) --before_point;
  }
  long exponent = 0;
  if (i < digits.size()) {
    std::string_view power = digits.substr(i + 1);
    if (!power.empty() && power.front() == '+') power.remove_prefix(1);
    const auto [end, error] = std::from_chars(power.data(), power.data() + power.size(), exponent);
    if (error == std::errc::result_out_of_range) return power.front() != '-';
  }
  return exponent > -before_point;
}

std::optional<TextProblem> sign_problem(std::string_view text, std::size_t at) {
  for (const std::string_view minus : {"\u2212", "\u2013", "\u2014", "\u2010", "\u2011"}) {
    if (text.substr(at, minus.size()) != minus) continue;
    return TextProblem{at, minus.size(), "this minus sign is not the one of the keyboard", "write '-'"};
  }
  return std::nullopt;
}

TextProblem no_number(std::string_view text, std::size_t at, Kind kind) {
  std::size_t n = 0;
  while (at + n < text.size() && blank_at(text.substr(at + n)) == 0) ++n;
  const std::string_view word = text.substr(at, n);
  return {at, n,
          fmt::format("{} was expected to start with a number, {} was found", expected(kind), quoted(word)),
          like(kind)};
}

std::variant<Number, TextProblem> read_number(std::string_view text, Kind kind) {
  Number number;
  while (const std::size_t n = blank_at(text.substr(number.begin))) number.begin += n;
  if (number.begin == text.size()) {
    return TextProblem{0, text.size(), fmt::format("the text is empty, {} was expected", expected(kind)),
                       like(kind)};
  }
  if (auto bad = sign_problem(text, number.begin)) return std::move(*bad);
  std::size_t from = number.begin;
  if (text[from] == '+') ++from;
  const std::size_t digit_at =
      from + (from < text.size() && text[from] == '-' && from == number.begin ? 1 : 0);
  const bool point_first =
      digit_at + 1 < text.size() && text[digit_at] == '.' && is_digit(text[digit_at + 1]);
  if (digit_at >= text.size() || !(is_digit(text[digit_at]) || point_first))
    return no_number(text, number.begin, kind);
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data() + from, end, number.value);
  number.end = static_cast<std::size_t>(stop - text.data());
  if (error == std::errc::result_out_of_range) {
    const std::string_view digits = text.substr(from, number.end - from);
    return TextProblem{
        number.begin, number.end - number.begin,
        too_large(digits) ? "the number is too large to be held" : "the number is too small to be held",
        "check its exponent"};
  }
  if (error != std::errc{}) return no_number(text, number.begin, kind);
  return number;
}

// What may not follow a number directly: the usual ways of other countries and languages.
std::optional<TextProblem> tail_problem(std::string_view text, const Number& n) {
  if (n.end >= text.size()) return std::nullopt;
  const char c = text[n.end];
  const bool digit_follows = n.end + 1 < text.size() && is_digit(text[n.end + 1]);
  const std::string_view written = text.substr(n.begin, n.end - n.begin);
  if (c == ',') {
    std::string remedy = "write the number with a decimal point";
    if (digit_follows && written.find('.') == std::string_view::npos) {
      std::size_t last = n.end + 1;
      while (last < text.size() && is_digit(text[last])) ++last;
      remedy = fmt::format("write '{}.{}'; if thousands were meant, '{}{}'", written,
                           text.substr(n.end + 1, last - n.end - 1), written,
                           text.substr(n.end + 1, last - n.end - 1));
    }
    return TextProblem{n.end, 1, "a comma cannot be part of a number", std::move(remedy)};
  }
  if ((c == '_' || c == '\'') && digit_follows) {
    return TextProblem{n.end, 1, "a number has no marks between its digits", "leave them out"};
  }
  if (c == '.') return TextProblem{n.end, 1, "the number has a second decimal point", "leave one"};
  if ((c == 'e' || c == 'E') && n.end + 1 < text.size()) {
    if (auto bad = sign_problem(text, n.end + 1)) return bad;
  }
  if ((c == 'x' || c == 'X') && (written == "0" || written == "-0" || written == "+0")) {
    return TextProblem{n.begin, n.end + 1 - n.begin, "hexadecimal numbers are not read",
                       "write the number in decimals"};
  }
  return std::nullopt;
}

// The blank between number and unit: where the unit starts, or what is wrong.
std::variant<std::size_t, TextProblem> find_unit(std::string_view text, const Number& n) {
  if (auto bad = tail_problem(text, n)) return std::move(*bad);
  std::size_t at = n.end;
  while (const std::size_t blank = blank_at(text.substr(at))) at += blank;
  if (at == text.size() || text[at] == '%') return at;
  const std::string_view written = text.substr(n.begin, n.end - n.begin);
  if (at == n.end) {
    return TextProblem{
        at, text.size() - at,
        fmt::format("a blank is missing between {} and {}", quoted(written), quoted(text.substr(at))),
        fmt::format("write '{} {}'", written, text.substr(at, 40))};
  }
  if (is_digit(text[at]) && !(text[at] == '1' && text.substr(at + 1, 1) == "/")) {
    return TextProblem{at, text.size() - at,
                       fmt::format("a unit was expected, {} was found", quoted(text.substr(at))),
                       "a number has no blanks between its digits"};
  }
  return at;
}

// A value that is a number but cannot be one of this kind.
std::optional<TextProblem> value_problem(const Number& n, double si, const Unit& unit) {
  const auto at = [&](const char* message, const char* remedy) {
    return TextProblem{n.begin, n.end - n.begin, message, remedy};
  };
  if (!std::isfinite(si)) return at("the value is too large to be held", "check its exponent and unit");
  if (si == 0 && n.value + unit.offset != 0) {
    return at("the value is too small to be held", "check its exponent and unit");
  }
  if (unit.kind == Kind::count && n.value < 0) return at("a count cannot be negative", "write zero or more");
  if (unit.kind == Kind::temperature && si < 0) {
    return at("the temperature is below absolute zero", "check its sign and unit");
  }
  return std::nullopt;
}

TextProblem missing_unit(std::string_view text, const Number& n, Kind kind) {
  return {n.begin, n.end - n.begin,
          fmt::format("the unit is missing after {}, {} was expected",
                      quoted(text.substr(n.begin, n.end - n.begin)), expected(kind)),
          fmt::format("units that fit: {}; for example \"{}\"", row(kind).fitting, example(kind))};
}

TextProblem unit_after_count(std::string_view text, const Number& n, std::size_t unit_at) {
  return {unit_at, text.size() - unit_at,
          fmt::format("a count has no unit, {} was found", quoted(text.substr(unit_at))),
          fmt::format("write '{}' alone", text.substr(n.begin, n.end - n.begin))};
}

}  // namespace

std::variant<WrittenSi, TextProblem> parse_si(std::string_view text, Kind kind) {
  auto number_read = read_number(text, kind);
  if (auto* bad = std::get_if<TextProblem>(&number_read)) return std::move(*bad);
  const Number number = std::get<Number>(number_read);
  auto unit_found = find_unit(text, number);
  if (auto* bad = std::get_if<TextProblem>(&unit_found)) return std::move(*bad);
  const std::size_t unit_at = std::get<std::size_t>(unit_found);
  if (unit_at == text.size() && kind != Kind::count) return missing_unit(text, number, kind);
  auto unit_read = parse_unit(text.substr(unit_at), kind);
  if (auto* bad = std::get_if<TextProblem>(&unit_read)) {
    if (kind == Kind::count) return unit_after_count(text, number, unit_at);
    bad->offset += unit_at;
    return std::move(*bad);
  }
  WrittenSi written{0, std::get<Unit>(std::move(unit_read))};
  written.value_si = to_si(number.value, written.unit) + 0.0;  // "-0" is zero
  if (auto bad = value_problem(number, written.value_si, written.unit)) return std::move(*bad);
  return written;
}

double in_unit(double value_si, const Unit& unit) { return value_si / unit.factor - unit.offset; }

double to_si(double value, const Unit& unit) { return (value + unit.offset) * unit.factor; }

void require_kind(Kind kind, const Unit& unit) {
  // J/m2 and Pa m are one type in C++.
  const bool same_type = kind == Kind::pressure_length && unit.kind == Kind::heat_density;
  if (unit.kind == kind || same_type) return;
  throw std::logic_error(fmt::format("'{}' is not a unit of {}", unit.symbol, name(kind)));
}

void require_basis(FlowBasis basis, const Unit& unit) {
  if (unit.basis == basis) return;
  throw std::logic_error(fmt::format("a flow cannot become '{}' without a gas reference", unit.symbol));
}

}  // namespace vacuary::detail
