// Text with a unit to a typed quantity and back.
//
// Text:    number, blanks (at least one, or none before '%'), unit: "2.0e-6 mbar", "250 sccm",
//          "0.5 rpm", "20 degC", "3 %". The number has a decimal point (no comma), no thousands
//          marks, no inf or nan. Units are case-sensitive, may be composed of the accepted
//          symbols with blanks or '*', '/', and integer powers ("mbar L/s/cm2", "W/m/K", "kg/m3").
//          Both micro signs and 'u' are read. Ratios are "%", "ppm", "ratio".
// A bare number is only a Count. Temperatures: "20 degC", "293.15 K". A temperature difference
// takes K only, so that nobody has to guess what "5 degC" meant.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "quantity/types.hpp"

namespace vacuary {

enum class Kind : std::uint8_t {
  length,
  area,
  volume,
  duration,
  mass,
  mass_density,
  deposition_rate,
  pressure,
  power,
  energy,
  voltage,
  current,
  charge,
  frequency,
  angle,
  angular_speed,
  pumping_speed,
  flow,
  flux,
  thickness_per_energy,
  mass_per_energy,
  power_density,
  power_ramp,
  voltage_rate,
  heat_density,
  charge_density,
  pressure_length,
  pressure_rate,
  thermal_conductivity,
  specific_heat,
  temperature_difference,
  temperature,
  ratio,
  count
};
[[nodiscard]] const char* name(Kind kind);     // "pumping speed"
[[nodiscard]] const char* example(Kind kind);  // "1500 L/s", in a unit of the trade

// A unit as written: value_si = (value + offset) * factor. `symbol` is the user's own spelling.
struct Unit {
  std::string symbol;
  Kind kind = Kind::ratio;
  double factor = 1;
  double offset = 0;
  FlowBasis basis = FlowBasis::amount;  // flow and flux only
};

// Where in the text something is wrong, and what to do. offset and length count bytes.
struct TextProblem {
  std::size_t offset = 0;
  std::size_t length = 0;
  std::string message;  // "unknown unit 'kw'"
  std::string remedy;   // "did you mean 'kW'?"
};

// The unit `text` names, read as one of `kind` (K is a temperature or a difference; L/s is a
// pumping speed; mbar L/s a flow; J/m2 a heat density and N/m nothing).
[[nodiscard]] std::variant<Unit, TextProblem> parse_unit(std::string_view text, Kind kind);

// The unit `text` names whatever its kind; the kinds it can be, in the order above (a log header
// "[K]" may be two). Empty with a problem when it is no unit.
[[nodiscard]] std::variant<std::vector<Unit>, TextProblem> parse_unit_of_any_kind(std::string_view text);

// The accepted simple symbols, for documentation, suggestions and the converter check.
struct UnitSymbol {
  std::string symbol;
  std::string meaning;
  Kind kind;
  double factor;
  double offset;
};
[[nodiscard]] const std::vector<UnitSymbol>& unit_symbols();

// A quantity of type Q with the unit it was written in.
template <class Q>
struct Written {
  Q value{};
  Unit unit;
};

// KindOf<Pressure>::value == Kind::pressure, for every type of types.hpp (WrittenFlow: flow,
// WrittenFlux: flux). HeatDensity and PressureLength are one Boost.Units type (J/m2 = Pa m); as
// text it is read as a pressure_length, and printed as whatever the unit given says.
template <class Q>
struct KindOf;

template <class Q>
[[nodiscard]] std::variant<Written<Q>, TextProblem> parse(std::string_view text);

// Value in `unit` as a plain number, and back.
template <class Q>
[[nodiscard]] double in(Q value, const Unit& unit);
template <class Q>
[[nodiscard]] Q of(double value, const Unit& unit);

// Shortest text that parses back to the same bits: "2e-06 mbar" is written "2.0e-6 mbar"-like only
// if that also round-trips; no digits are lost.
template <class Q>
[[nodiscard]] std::string exact(Q value, const Unit& unit);

// `digits` significant digits: "0.302 Pa".
template <class Q>
[[nodiscard]] std::string brief(Q value, const Unit& unit, int digits = 3);

// Value and expanded uncertainty rounded to the uncertainty (two significant digits, JCGM 100
// 7.2.6): "89.9 nm +/- 4.8 nm". A zero or non-finite uncertainty prints brief() and says so.
template <class Q>
[[nodiscard]] std::string with_uncertainty(Q value, Q expanded, const Unit& unit);

// The unit the trade prints this kind in when nobody chose one: nm, Pa, sccm, kWh, min ...
[[nodiscard]] const Unit& usual_unit(Kind kind);
// A unit that is known to the code: unit("mbar", Kind::pressure). A slip is our own mistake and
// throws std::logic_error.
[[nodiscard]] const Unit& unit(std::string_view symbol, Kind kind);

}  // namespace vacuary

#include "quantity/text_impl.hpp"  // IWYU pragma: export
