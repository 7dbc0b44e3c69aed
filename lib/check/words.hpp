// Inside of `check`: how values are put into words, so that every rule says them alike.
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <string>

#include "plan/plan.hpp"
#include "quantity/quantity.hpp"

namespace vacuary::check {

// Where a value lies against a bound it should not be above, given its expanded uncertainty.
enum class Standing {
  within,  // wholly on the good side
  close,   // the bound lies inside the interval
  beyond   // wholly on the bad side
};
[[nodiscard]] Standing against_at_most(double value, double expanded, double bound);

// "0.302", "1.2e-6": at most `digits` significant digits and no idle zeros.
[[nodiscard]] std::string number(double value, int digits);
// The largest number of three digits not above `value`, and the smallest not below it: a remedy
// that is followed to the letter must mend the matter.
[[nodiscard]] double rounded_down(double value);
[[nodiscard]] double rounded_up(double value);

[[nodiscard]] inline std::string with_unit(double value, const Unit& unit, int digits) {
  return number(value, digits) + " " + unit.symbol;
}

template <class Q>
[[nodiscard]] std::string words(Q value, const Unit& unit, int digits = 4) {
  return with_unit(in<Q>(value, unit), unit, digits);
}
template <class Q>
[[nodiscard]] std::string words(const plan::Given<Q>& given, int digits = 6) {
  return words(given.value, given.unit, digits);
}
// For "at most ..." and "at least ..." in a remedy.
template <class Q>
[[nodiscard]] std::string at_most_words(Q value, const Unit& unit) {
  return with_unit(rounded_down(in<Q>(value, unit)), unit, 3);
}
template <class Q>
[[nodiscard]] std::string at_least_words(Q value, const Unit& unit) {
  return with_unit(rounded_up(in<Q>(value, unit)), unit, 3);
}

// A flow needs the chamber's reference to be said in sccm or mbar L/s.
[[nodiscard]] std::string flow_words(MolarFlow flow, const Unit& unit, const GasReference& reference,
                                     int digits = 4);
[[nodiscard]] double flow_in(MolarFlow flow, const Unit& unit, const GasReference& reference);

// Coverage factor of every expanded uncertainty here.
inline constexpr double coverage = 2;
template <class Q>
[[nodiscard]] Q expanded(const Estimate<Q>& estimate) {
  return Q(estimate.standard_uncertainty * coverage);
}
template <class Q>
[[nodiscard]] std::string words(const Estimate<Q>& estimate, const Unit& unit) {
  return with_uncertainty(estimate.value, expanded(estimate), unit);
}

// A predicted time is as likely a factor too short as too long: its interval is taken from
// value / (1 + U / value) to value + U, which is value +/- U when U is small.
[[nodiscard]] Standing against_at_most(const Estimate<Duration>& time, Duration bound);
// "4.1 h (1.8 to 9.5 h)": the value and that interval.
[[nodiscard]] std::string time_words(const Estimate<Duration>& time, const Unit& unit);

// "5 turns", "1 turn".
[[nodiscard]] std::string turns_words(double turns);

}  // namespace vacuary::check
