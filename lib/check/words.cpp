#include "check/words.hpp"

#include <algorithm>
#include <charconv>

namespace vacuary::check {
namespace {

// Steps of three significant digits at `value`.
double step_of_three_digits(double value) {
  return std::pow(10.0, std::floor(std::log10(std::abs(value))) - 2);
}

// A value this near to a round one is that round one: unit conversion leaves such dust.
constexpr double dust = 1e-9;

}  // namespace

Standing against_at_most(double value, double expanded_uncertainty, double bound) {
  const double slack = dust * std::abs(bound);
  if (value - expanded_uncertainty > bound + slack) return Standing::beyond;
  return value + expanded_uncertainty > bound + slack ? Standing::close : Standing::within;
}

Standing against_at_most(const Estimate<Duration>& time, Duration bound) {
  const double value_s = time.value.value();
  const double upper_s = expanded(time).value();
  const Standing standing = against_at_most(value_s, upper_s, bound.value());
  if (standing != Standing::close || value_s <= 0) return standing;
  const double shortest_s = value_s / (1 + upper_s / value_s);
  return shortest_s > bound.value() ? Standing::beyond : Standing::close;
}

std::string number(double value, int digits) {
  double rounded = value;
  const std::string few = fmt::format("{:.{}e}", value, std::max(digits, 1) - 1);
  std::from_chars(few.data(), few.data() + few.size(), rounded);
  const std::string text = fmt::format("{}", rounded);
  const std::size_t e = text.find('e');
  if (e == std::string::npos) return text;
  // "1e-06" is written "1e-6".
  std::size_t first = e + 1;
  std::string sign;
  if (text[first] == '-') sign = "-";
  if (text[first] == '-' || text[first] == '+') ++first;
  while (first + 1 < text.size() && text[first] == '0') ++first;
  return text.substr(0, e + 1) + sign + text.substr(first);
}

double rounded_down(double value) {
  if (value == 0 || !std::isfinite(value)) return value;
  const double step = step_of_three_digits(value);
  return std::floor(value / step * (1 + dust)) * step;
}

double rounded_up(double value) {
  if (value == 0 || !std::isfinite(value)) return value;
  const double step = step_of_three_digits(value);
  return std::ceil(value / step * (1 - dust)) * step;
}

double flow_in(MolarFlow flow, const Unit& unit, const GasReference& reference) {
  return in<WrittenFlow>(WrittenFlow::of(flow, unit.basis, reference), unit);
}

std::string flow_words(MolarFlow flow, const Unit& unit, const GasReference& reference, int digits) {
  return with_unit(flow_in(flow, unit, reference), unit, digits);
}

std::string turns_words(double turns) {
  return fmt::format("{} turn{}", number(turns, 4), turns == 1 ? "" : "s");
}

}  // namespace vacuary::check
