// Printing: digits first, their arrangement after. All rounding is done once, by fmt, on the exact
// binary value.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

#include "quantity/symbols.hpp"

namespace vacuary::detail {
namespace {

// 0.d1d2d3... is not used: the first digit has weight 10^exponent.
struct Digits {
  bool negative = false;
  std::string digits;  // at least one, no point
  int exponent = 0;
};

// `text` as fmt writes it with 'e': "-1.234e+05".
Digits taken_apart(std::string_view text) {
  Digits d;
  d.negative = text.front() == '-';
  if (d.negative) text.remove_prefix(1);
  const std::size_t e = text.find('e');
  for (const char c : text.substr(0, e)) {
    if (c != '.') d.digits += c;
  }
  std::string_view power = text.substr(e + 1);
  if (power.front() == '+') power.remove_prefix(1);
  std::from_chars(power.data(), power.data() + power.size(), d.exponent);
  return d;
}

Digits rounded(double value, int significant) {
  return taken_apart(fmt::format("{:.{}e}", value, significant - 1));
}

// `value` rounded at the digit of weight 10^place; zero when nothing is left.
Digits rounded_at(double value, int place) {
  const Digits first = rounded(value, 17);
  const int significant = first.exponent - place + 1;
  if (value == 0 || significant < 0 || (significant == 0 && first.digits.front() < '5')) {
    return {false, "0", place};
  }
  if (significant == 0) return {first.negative, "1", place};
  Digits d = rounded(value, significant);
  if (d.exponent > first.exponent) d.digits += '0';  // 9.96 became 10.0
  return d;
}

std::string fixed(const Digits& d) {
  if (d.digits == "0" && d.exponent >= 0) return "0";
  std::string out = d.negative ? "-" : "";
  const int count = static_cast<int>(d.digits.size());
  if (d.exponent < 0) {
    return out + "0." + std::string(static_cast<std::size_t>(-d.exponent - 1), '0') + d.digits;
  }
  if (count <= d.exponent + 1) {
    return out + d.digits + std::string(static_cast<std::size_t>(d.exponent + 1 - count), '0');
  }
  const auto whole = static_cast<std::size_t>(d.exponent + 1);
  return out + d.digits.substr(0, whole) + "." + d.digits.substr(whole);
}

std::string scientific(const Digits& d) {
  std::string rest = d.digits.substr(1);
  if (rest.empty()) rest = "0";
  return fmt::format("{}{}.{}e{}", d.negative ? "-" : "", d.digits.front(), rest, d.exponent);
}

constexpr int lowest_fixed = -3;  // 0.00123
constexpr int highest_fixed = 5;  // 123456

std::string arranged(const Digits& d) {
  return d.exponent < lowest_fixed || d.exponent > highest_fixed ? scientific(d) : fixed(d);
}

std::string no_number(double value, const Unit& unit) {
  const char* text = std::isnan(value) ? "not a number" : value > 0 ? "infinite" : "minus infinite";
  return unit.symbol.empty() ? text : fmt::format("{} {}", text, unit.symbol);
}

std::string with_unit(const std::string& number, const Unit& unit) {
  return unit.symbol.empty() ? number : fmt::format("{} {}", number, unit.symbol);
}

// The shortest digits of a number that, read in `unit`, give the very bits of `value_si`.
std::optional<Digits> shortest(double value_si, const Unit& unit) {
  // Dividing by a rounded factor can land beside the number; four neighbours are more than enough.
  constexpr int neighbours = 4;
  const double start = in_unit(value_si, unit);
  if (!std::isfinite(start)) return std::nullopt;
  std::optional<Digits> best;
  const auto offer = [&](double candidate) {
    if (to_si(candidate, unit) != value_si) return;
    Digits d = taken_apart(fmt::format("{:.{}e}", candidate, 16));
    for (int n = 1; n <= 17; ++n) {
      const std::string text = fmt::format("{:.{}e}", candidate, n - 1);
      double back = 0;
      std::from_chars(text.data(), text.data() + text.size(), back);
      if (to_si(back, unit) != value_si) continue;
      d = taken_apart(text);
      break;
    }
    while (d.digits.size() > 1 && d.digits.back() == '0') d.digits.pop_back();
    if (!best || d.digits.size() < best->digits.size()) best = d;
  };
  offer(start);
  double up = start;
  double down = start;
  for (int i = 0; i < neighbours; ++i) {
    up = std::nextafter(up, std::numeric_limits<double>::infinity());
    down = std::nextafter(down, -std::numeric_limits<double>::infinity());
    offer(up);
    offer(down);
  }
  return best;
}

Unit coherent_unit(const Unit& unit) {
  const char* symbol = row(unit.kind).coherent;
  if (unit.basis == FlowBasis::standard) symbol = unit.kind == Kind::flow ? "scc m3/s/cm3" : "scc m/s/cm3";
  if (unit.basis == FlowBasis::pressure_volume) symbol = unit.kind == Kind::flow ? "Pa m3/s" : "Pa m/s";
  return vacuary::unit(symbol, unit.kind);
}

}  // namespace

std::string exact_si(double value_si, const Unit& unit) {
  if (!std::isfinite(value_si)) return no_number(value_si, unit);
  if (value_si == 0 && unit.offset == 0) return with_unit("0", unit);
  if (const auto digits = shortest(value_si, unit)) return with_unit(arranged(*digits), unit);
  // Some values lie between what two neighbouring numbers give in this unit: the SI unit has them all.
  const Unit coherent = coherent_unit(unit);
  return with_unit(arranged(*shortest(value_si, coherent)), coherent);
}

std::string brief_si(double value_si, const Unit& unit, int digits) {
  const double value = in_unit(value_si, unit);
  if (!std::isfinite(value)) return no_number(value, unit);
  if (value == 0) return with_unit("0", unit);
  return with_unit(arranged(rounded(value, std::clamp(digits, 1, 17))), unit);
}

std::string with_uncertainty_si(double value_si, double expanded_si, const Unit& unit) {
  const double value = in_unit(value_si, unit);
  const double expanded = expanded_si / unit.factor;  // a difference: no offset
  if (!std::isfinite(value)) return no_number(value, unit);
  if (!std::isfinite(expanded) || expanded <= 0) {
    return brief_si(value_si, unit, 3) + " (uncertainty not known)";
  }
  const Digits u = rounded(expanded, 2);
  const int place = u.exponent - 1;
  const Digits v = rounded_at(value, place);
  const int largest = v.digits == "0" ? u.exponent : std::max(v.exponent, u.exponent);
  if (largest >= lowest_fixed && largest <= highest_fixed) {
    return fmt::format("{} +/- {}", with_unit(fixed(v), unit), with_unit(fixed(u), unit));
  }
  // Both with the same power of ten, so that they can be compared at a glance.
  const auto scaled = [&](Digits d) {
    d.exponent -= largest;
    return fmt::format("{}e{}", fixed(d), largest);
  };
  return fmt::format("{} +/- {}", with_unit(scaled(v), unit), with_unit(scaled(u), unit));
}

}  // namespace vacuary::detail
