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

Duration shortest(const Estimate<Duration>& time) {
  if (time.value.value() <= 0) return time.value;
  return time.value / (1 + expanded(time) / time.value);
}

}  // namespace

Standing against_at_most(double value, double expanded_uncertainty, double bound) {
  const double slack = dust * std::abs(bound);
  if (value - expanded_uncertainty > bound + slack) return Standing::beyond;
  return value + expanded_uncertainty > bound + slack ? Standing::close : Standing::within;
}

Standing against_at_most(const Estimate<Duration>& time, Duration bound) {
  const Standing standing = against_at_most(time.value.value(), expanded(time).value(), bound.value());
  if (standing != Standing::close) return standing;
  return shortest(time) > bound ? Standing::beyond : Standing::close;
}

std::string time_words(const Estimate<Duration>& time, const Unit& unit) {
  const std::string value = words(time.value, unit, 2);
  if (time.standard_uncertainty.value() <= 0) return value;
  const Duration longest = time.value + expanded(time);
  return fmt::format("{} ({} to {})", value, number(in<Duration>(shortest(time), unit), 2),
                     words(longest, unit, 2));
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
