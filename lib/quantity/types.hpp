// The quantities of coating work as Boost.Units types. All values are SI inside: a bare double
// taken out of one (`.value()`) is in the coherent SI unit, and lives only inside a kernel with
// its unit in its name (`pressure_pa`).
//
// What Boost.Units alone would confuse is kept apart here:
//  - a gas flow is an amount per time (mol/s); pressure-volume throughput, which has the dimension
//    of power, is its own type and crosses over only with a stated gas temperature;
//  - rotation (rad/s) is apart from frequency (1/s): plane angle is a base dimension here;
//  - an absolute temperature is apart from a temperature difference;
//  - a ratio (with % and ppm) is apart from a count, and neither is a bare number.
#pragma once

#include <boost/units/absolute.hpp>
#include <boost/units/derived_dimension.hpp>
#include <boost/units/quantity.hpp>
#include <boost/units/systems/si.hpp>
#include <compare>
#include <cstdint>

namespace vacuary {

namespace units_detail {
namespace bu = boost::units;
// D1^E1 D2^E2 ... of SI base dimensions as a coherent SI unit.
template <class Dimension>
using Si = bu::unit<Dimension, bu::si::system>;
using MolarFlowDim = bu::derived_dimension<bu::amount_base_dimension, 1, bu::time_base_dimension, -1>::type;
using MolarFluxDim = bu::derived_dimension<bu::length_base_dimension, -2, bu::amount_base_dimension, 1,
                                           bu::time_base_dimension, -1>::type;
using PumpingSpeedDim =
    bu::derived_dimension<bu::length_base_dimension, 3, bu::time_base_dimension, -1>::type;
using ThicknessPerEnergyDim = bu::derived_dimension<bu::length_base_dimension, -1, bu::mass_base_dimension,
                                                    -1, bu::time_base_dimension, 2>::type;
using PowerDensityDim = bu::derived_dimension<bu::mass_base_dimension, 1, bu::time_base_dimension, -3>::type;
using PowerRampDim = bu::derived_dimension<bu::length_base_dimension, 2, bu::mass_base_dimension, 1,
                                           bu::time_base_dimension, -4>::type;
using VoltageRateDim =
    bu::derived_dimension<bu::length_base_dimension, 2, bu::mass_base_dimension, 1, bu::time_base_dimension,
                          -4, bu::current_base_dimension, -1>::type;
using HeatDensityDim = bu::derived_dimension<bu::mass_base_dimension, 1, bu::time_base_dimension, -2>::type;
using ChargeDensityDim = bu::derived_dimension<bu::length_base_dimension, -2, bu::time_base_dimension, 1,
                                               bu::current_base_dimension, 1>::type;
using PressureLengthDim =
    bu::derived_dimension<bu::mass_base_dimension, 1, bu::time_base_dimension, -2>::type;
using PressureRateDim = bu::derived_dimension<bu::length_base_dimension, -1, bu::mass_base_dimension, 1,
                                              bu::time_base_dimension, -3>::type;
using PressureVolumeDim = bu::energy_dimension;
using MassPerEnergyDim =
    bu::derived_dimension<bu::length_base_dimension, -2, bu::time_base_dimension, 2>::type;
using ConductivityDim =
    bu::derived_dimension<bu::length_base_dimension, 1, bu::mass_base_dimension, 1, bu::time_base_dimension,
                          -3, bu::temperature_base_dimension, -1>::type;
using SpecificHeatDim = bu::derived_dimension<bu::length_base_dimension, 2, bu::time_base_dimension, -2,
                                              bu::temperature_base_dimension, -1>::type;
}  // namespace units_detail

// value() of each is in the unit named at the right.
using Length = boost::units::quantity<boost::units::si::length>;                               // m
using Area = boost::units::quantity<boost::units::si::area>;                                   // m2
using Volume = boost::units::quantity<boost::units::si::volume>;                               // m3
using Duration = boost::units::quantity<boost::units::si::time>;                               // s
using Mass = boost::units::quantity<boost::units::si::mass>;                                   // kg
using MassDensity = boost::units::quantity<boost::units::si::mass_density>;                    // kg/m3
using DepositionRate = boost::units::quantity<boost::units::si::velocity>;                     // m/s
using Pressure = boost::units::quantity<boost::units::si::pressure>;                           // Pa
using Power = boost::units::quantity<boost::units::si::power>;                                 // W
using Energy = boost::units::quantity<boost::units::si::energy>;                               // J
using Voltage = boost::units::quantity<boost::units::si::electric_potential>;                  // V
using Current = boost::units::quantity<boost::units::si::current>;                             // A
using Charge = boost::units::quantity<boost::units::si::electric_charge>;                      // C
using Frequency = boost::units::quantity<boost::units::si::frequency>;                         // 1/s
using Angle = boost::units::quantity<boost::units::si::plane_angle>;                           // rad
using AngularSpeed = boost::units::quantity<boost::units::si::angular_velocity>;               // rad/s
using PumpingSpeed = boost::units::quantity<units_detail::Si<units_detail::PumpingSpeedDim>>;  // m3/s
using MolarFlow = boost::units::quantity<units_detail::Si<units_detail::MolarFlowDim>>;        // mol/s
using MolarFlux = boost::units::quantity<units_detail::Si<units_detail::MolarFluxDim>>;        // mol/s/m2
using ThicknessPerEnergy =
    boost::units::quantity<units_detail::Si<units_detail::ThicknessPerEnergyDim>>;                    // m/J
using MassPerEnergy = boost::units::quantity<units_detail::Si<units_detail::MassPerEnergyDim>>;       // kg/J
using PowerDensity = boost::units::quantity<units_detail::Si<units_detail::PowerDensityDim>>;         // W/m2
using PowerRamp = boost::units::quantity<units_detail::Si<units_detail::PowerRampDim>>;               // W/s
using VoltageRate = boost::units::quantity<units_detail::Si<units_detail::VoltageRateDim>>;           // V/s
using HeatDensity = boost::units::quantity<units_detail::Si<units_detail::HeatDensityDim>>;           // J/m2
using ChargeDensity = boost::units::quantity<units_detail::Si<units_detail::ChargeDensityDim>>;       // C/m2
using PressureLength = boost::units::quantity<units_detail::Si<units_detail::PressureLengthDim>>;     // Pa m
using PressureRate = boost::units::quantity<units_detail::Si<units_detail::PressureRateDim>>;         // Pa/s
using ThermalConductivity = boost::units::quantity<units_detail::Si<units_detail::ConductivityDim>>;  // W/m/K
using SpecificHeat = boost::units::quantity<units_detail::Si<units_detail::SpecificHeatDim>>;  // J/kg/K
using TemperatureDifference = boost::units::quantity<boost::units::si::temperature>;           // K

// Absolute temperature, a type for the boundaries only: two of them cannot be added, nor one
// doubled. Formulas take `thermodynamic(t)`.
using Temperature = boost::units::quantity<boost::units::absolute<boost::units::si::temperature>>;  // K

}  // namespace vacuary

// Boost.Units would multiply an absolute temperature as if it were a difference. These stand in its
// namespace so that argument-dependent lookup finds them wherever somebody tries.
namespace boost::units {
void operator*(double, const vacuary::Temperature&) = delete;
void operator*(const vacuary::Temperature&, double) = delete;
void operator/(const vacuary::Temperature&, double) = delete;
template <class Unit>
void operator*(const quantity<Unit, double>&, const vacuary::Temperature&) = delete;
template <class Unit>
void operator*(const vacuary::Temperature&, const quantity<Unit, double>&) = delete;
template <class Unit>
void operator/(const quantity<Unit, double>&, const vacuary::Temperature&) = delete;
template <class Unit>
void operator/(const vacuary::Temperature&, const quantity<Unit, double>&) = delete;
}  // namespace boost::units

namespace vacuary {

// The thermodynamic temperature as a multiple of the kelvin, for k T and R T.
[[nodiscard]] inline TemperatureDifference thermodynamic(Temperature t) {
  return t.value() * boost::units::si::kelvin;
}

// Pressure-volume throughput (Pa m3/s): the dimension of power, but never a power.
class Throughput {
 public:
  Throughput() = default;
  [[nodiscard]] static Throughput of(Pressure p, PumpingSpeed s) { return Throughput{p.value() * s.value()}; }
  [[nodiscard]] static Throughput from_pa_m3_per_s(double value) { return Throughput{value}; }
  [[nodiscard]] double pa_m3_per_s() const { return pa_m3_per_s_; }
  friend auto operator<=>(const Throughput&, const Throughput&) = default;

 private:
  explicit Throughput(double value) : pa_m3_per_s_(value) {}
  double pa_m3_per_s_ = 0;
};

// The named crossing between amount and pressure-volume: pV = nRT at the gas temperature.
[[nodiscard]] Throughput throughput(MolarFlow flow, Temperature gas);
[[nodiscard]] MolarFlow molar_flow(Throughput throughput, Temperature gas);

// A dimensionless ratio: 3 % is Ratio::of(0.03).
class Ratio {
 public:
  Ratio() = default;
  [[nodiscard]] static Ratio of(double value) { return Ratio{value}; }
  [[nodiscard]] static Ratio percent(double value) { return Ratio{value / 100}; }
  [[nodiscard]] double value() const { return value_; }
  friend auto operator<=>(const Ratio&, const Ratio&) = default;

 private:
  explicit Ratio(double value) : value_(value) {}
  double value_ = 0;
};

// A number of things (turns, samples, arcs). Never negative; may be a fraction where a count
// may be (2.5 turns).
class Count {
 public:
  Count() = default;
  [[nodiscard]] static Count of(double value) { return Count{value}; }
  [[nodiscard]] double value() const { return value_; }
  friend auto operator<=>(const Count&, const Count&) = default;

 private:
  explicit Count(double value) : value_(value) {}
  double value_ = 0;
};

// A value with its standard uncertainty (JCGM 100), both of type Q.
template <class Q>
struct Estimate {
  Q value{};
  Q standard_uncertainty{};
};

// What turns a flow in text into an amount: the reference of "standard" in sccm, and the
// temperature of the gas that a throughput in mbar L/s speaks of.
struct GasReference {
  Temperature standard_temperature;  // 273.15 K unless the chamber says otherwise
  Pressure standard_pressure;        // 101325 Pa unless the chamber says otherwise
  Temperature gas_temperature;       // 293.15 K unless the chamber says otherwise
  [[nodiscard]] static GasReference usual();
};

// A flow as written, before anyone has said at what reference: an amount, a standard flow
// (sccm, slm) or a throughput (mbar L/s). PerArea is the same per square metre.
enum class FlowBasis : std::uint8_t { amount, standard, pressure_volume };

struct WrittenFlow {
  FlowBasis basis = FlowBasis::amount;
  double value_si = 0;  // mol/s; m3/s of standard gas; Pa m3/s
  [[nodiscard]] MolarFlow resolve(const GasReference& reference) const;
  [[nodiscard]] static WrittenFlow of(MolarFlow flow, FlowBasis basis, const GasReference& reference);
};

struct WrittenFlux {
  FlowBasis basis = FlowBasis::amount;
  double value_si = 0;  // mol/s/m2; m/s of standard gas; Pa m/s
  [[nodiscard]] MolarFlux resolve(const GasReference& reference) const;
};

namespace constants {
// CODATA 2018; exact by the 2019 SI.
inline constexpr double gas_j_per_mol_k = 8.31446261815324;
inline constexpr double boltzmann_j_per_k = 1.380649e-23;
inline constexpr double avogadro_per_mol = 6.02214076e23;
inline constexpr double elementary_charge_c = 1.602176634e-19;
}  // namespace constants

}  // namespace vacuary
