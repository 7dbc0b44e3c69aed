#include <stdexcept>

#include "quantity/symbols.hpp"

namespace vacuary::detail {
namespace {

constexpr KindRow rows[] = {
    {Kind::length, "length", "90 nm", "m, mm, um, nm, angstrom", "mm", "m"},
    {Kind::area, "area", "5.1 m2", "m2, cm2, mm2", "m2", "m2"},
    {Kind::volume, "volume", "14 m3", "m3, L, cm3", "m3", "m3"},
    {Kind::duration, "duration", "20 min", "s, min, h, d", "min", "s"},
    {Kind::mass, "mass", "12.2 kg", "kg, g, mg", "g", "kg"},
    {Kind::mass_density, "density", "2700 kg/m3", "kg/m3, g/cm3", "kg/m3", "kg/m3"},
    {Kind::deposition_rate, "deposition rate", "2.9 nm/s", "nm/s, nm/min, angstrom/s", "nm/s", "m/s"},
    {Kind::pressure, "pressure", "0.30 Pa", "Pa, mbar, ubar, Torr, mTorr, atm, psi", "Pa", "Pa"},
    {Kind::power, "power", "15 kW", "W, kW", "kW", "W"},
    {Kind::energy, "energy", "3 kWh", "J, kJ, Wh, kWh, eV", "kWh", "J"},
    {Kind::voltage, "voltage", "480 V", "V, kV, mV", "V", "V"},
    {Kind::current, "current", "31.3 A", "A, mA", "A", "A"},
    {Kind::charge, "charge", "900 C", "C, mC, A h", "C", "C"},
    {Kind::frequency, "frequency", "6 MHz", "Hz, kHz, MHz, 1/s", "Hz", "Hz"},
    {Kind::angle, "angle", "15 deg", "deg, rad, turn", "deg", "rad"},
    {Kind::angular_speed, "rotation speed", "0.5 rpm", "rpm, rad/s, deg/s, turn/min", "rpm", "rad/s"},
    {Kind::pumping_speed, "pumping speed", "1500 L/s", "L/s, m3/h, m3/s", "L/s", "m3/s"},
    {Kind::flow, "gas flow", "250 sccm", "sccm, slm, mbar L/s, Torr L/s, Pa m3/s, mol/s", "sccm", "mol/s"},
    {Kind::flux, "gas flow per area", "2e-8 mbar L/s/cm2", "mbar L/s/cm2, Torr L/s/cm2, Pa m/s, mol/s/m2",
     "mbar L/s/cm2", "mol/s/m2"},
    {Kind::thickness_per_energy, "film per energy", "30 nm/kWh", "nm/kWh, nm/J", "nm/kWh", "m/J"},
    {Kind::mass_per_energy, "mass per energy", "1.81 g/kWh", "g/kWh, kg/J", "g/kWh", "kg/J"},
    {Kind::power_density, "power density", "4.0 W/cm2", "W/cm2, W/m2", "W/cm2", "W/m2"},
    {Kind::power_ramp, "power ramp", "2 kW/s", "W/s, kW/s, kW/min", "kW/s", "W/s"},
    {Kind::voltage_rate, "voltage rate", "2 V/min", "V/s, V/min", "V/min", "V/s"},
    {Kind::heat_density, "heat per area", "17.4 kJ/m2", "J/m2, kJ/m2, J/cm2", "kJ/m2", "J/m2"},
    {Kind::charge_density, "charge per area", "16 C/m2", "C/m2, mC/cm2", "C/m2", "C/m2"},
    {Kind::pressure_length, "pressure times length", "10 Pa cm", "Pa cm, Pa m, Torr cm", "Pa cm", "Pa m"},
    {Kind::pressure_rate, "pressure rate", "2e-4 Pa/s", "Pa/s, mbar/min, mbar/h", "Pa/s", "Pa/s"},
    {Kind::thermal_conductivity, "thermal conductivity", "1.1 W/m/K", "W/m/K, W/cm/K", "W/m/K", "W/m/K"},
    {Kind::specific_heat, "specific heat", "830 J/kg/K", "J/kg/K, J/g/K", "J/kg/K", "J/kg/K"},
    {Kind::temperature_difference, "temperature difference", "5 K", "K, mK", "K", "K"},
    {Kind::temperature, "temperature", "20 degC", "degC, K", "degC", "K"},
    {Kind::ratio, "ratio", "3 %", "%, ppm, ratio", "%", "ratio"},
    {Kind::count, "count", "6", "none, a count is a bare number", "", ""},
};

constexpr Dimension pressure_volume_flow{.length = 2, .mass = 1, .time = -3, .pressure = 1};
constexpr Dimension pressure_volume_flux{.mass = 1, .time = -3, .pressure = 1};

std::optional<FlowBasis> flow_basis(const Dimension& d) {
  if (d == Dimension{.time = -1, .amount = 1}) return FlowBasis::amount;
  if (d == Dimension{.length = 3, .time = -1, .standard_gas = 1}) return FlowBasis::standard;
  if (d == pressure_volume_flow) return FlowBasis::pressure_volume;
  return std::nullopt;
}

std::optional<FlowBasis> flux_basis(const Dimension& d) {
  if (d == Dimension{.length = -2, .time = -1, .amount = 1}) return FlowBasis::amount;
  if (d == Dimension{.length = 1, .time = -1, .standard_gas = 1}) return FlowBasis::standard;
  if (d == pressure_volume_flux) return FlowBasis::pressure_volume;
  return std::nullopt;
}

Dimension dimension_of(Kind kind) {
  switch (kind) {
    case Kind::length:
      return {.length = 1};
    case Kind::area:
      return {.length = 2};
    case Kind::volume:
      return {.length = 3};
    case Kind::duration:
      return {.time = 1};
    case Kind::mass:
      return {.mass = 1};
    case Kind::mass_density:
      return {.length = -3, .mass = 1};
    case Kind::deposition_rate:
      return {.length = 1, .time = -1};
    case Kind::pressure:
      return {.length = -1, .mass = 1, .time = -2, .pressure = 1};
    case Kind::power:
      return {.length = 2, .mass = 1, .time = -3};
    case Kind::energy:
      return {.length = 2, .mass = 1, .time = -2};
    case Kind::voltage:
      return {.length = 2, .mass = 1, .time = -3, .current = -1};
    case Kind::current:
      return {.current = 1};
    case Kind::charge:
      return {.time = 1, .current = 1};
    case Kind::frequency:
      return {.time = -1};
    case Kind::angle:
      return {.angle = 1};
    case Kind::angular_speed:
      return {.time = -1, .angle = 1};
    case Kind::pumping_speed:
      return {.length = 3, .time = -1};
    case Kind::flow:
      return {.time = -1, .amount = 1};
    case Kind::flux:
      return {.length = -2, .time = -1, .amount = 1};
    case Kind::thickness_per_energy:
      return {.length = -1, .mass = -1, .time = 2};
    case Kind::mass_per_energy:
      return {.length = -2, .time = 2};
    case Kind::power_density:
      return {.mass = 1, .time = -3};
    case Kind::power_ramp:
      return {.length = 2, .mass = 1, .time = -4};
    case Kind::voltage_rate:
      return {.length = 2, .mass = 1, .time = -4, .current = -1};
    case Kind::heat_density:
      return {.mass = 1, .time = -2};
    case Kind::charge_density:
      return {.length = -2, .time = 1, .current = 1};
    case Kind::pressure_length:
      return {.mass = 1, .time = -2, .pressure = 1};
    case Kind::pressure_rate:
      return {.length = -1, .mass = 1, .time = -3, .pressure = 1};
    case Kind::thermal_conductivity:
      return {.length = 1, .mass = 1, .time = -3, .temperature = -1};
    case Kind::specific_heat:
      return {.length = 2, .time = -2, .temperature = -1};
    case Kind::temperature_difference:
      return {.temperature = 1};
    case Kind::temperature:
      return {.temperature = 1};
    case Kind::ratio:
      return {.ratio = 1};
    case Kind::count:
      return {.count = 1};
  }
  throw std::logic_error("no such kind");
}

}  // namespace

const KindRow& row(Kind kind) {
  static_assert(std::size(rows) == kind_count);
  return rows[static_cast<std::size_t>(kind)];
}

std::optional<FlowBasis> basis_as(Kind kind, const Dimension& unit_dimension) {
  if (kind == Kind::flow) return flow_basis(unit_dimension);
  if (kind == Kind::flux) return flux_basis(unit_dimension);
  Dimension wanted = dimension_of(kind);
  // What a pump's cold head takes in a gulp is written as pressure times volume, an energy.
  if (kind == Kind::energy && unit_dimension.pressure == 1) wanted.pressure = 1;
  return unit_dimension == wanted ? std::optional(FlowBasis::amount) : std::nullopt;
}

}  // namespace vacuary::detail

namespace vacuary {

const char* name(Kind kind) { return detail::row(kind).name; }
const char* example(Kind kind) { return detail::row(kind).example; }

}  // namespace vacuary
