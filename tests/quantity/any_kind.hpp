// The typed templates of text.hpp, reached by a Kind known only at run time.
#pragma once

#include <utility>

#include "quantity/quantity.hpp"

namespace any_kind {

// Calls `use` with a value of the type that text of `kind` is read into.
template <class Use>
decltype(auto) with_type(vacuary::Kind kind, Use&& use) {
  using namespace vacuary;
  switch (kind) {
    case Kind::length:
      return use(Length{});
    case Kind::area:
      return use(Area{});
    case Kind::volume:
      return use(Volume{});
    case Kind::duration:
      return use(Duration{});
    case Kind::mass:
      return use(Mass{});
    case Kind::mass_density:
      return use(MassDensity{});
    case Kind::deposition_rate:
      return use(DepositionRate{});
    case Kind::pressure:
      return use(Pressure{});
    case Kind::power:
      return use(Power{});
    case Kind::energy:
      return use(Energy{});
    case Kind::voltage:
      return use(Voltage{});
    case Kind::current:
      return use(Current{});
    case Kind::charge:
      return use(Charge{});
    case Kind::frequency:
      return use(Frequency{});
    case Kind::angle:
      return use(Angle{});
    case Kind::angular_speed:
      return use(AngularSpeed{});
    case Kind::pumping_speed:
      return use(PumpingSpeed{});
    case Kind::flow:
      return use(WrittenFlow{});
    case Kind::flux:
      return use(WrittenFlux{});
    case Kind::thickness_per_energy:
      return use(ThicknessPerEnergy{});
    case Kind::mass_per_energy:
      return use(MassPerEnergy{});
    case Kind::power_density:
      return use(PowerDensity{});
    case Kind::power_ramp:
      return use(PowerRamp{});
    case Kind::voltage_rate:
      return use(VoltageRate{});
    case Kind::charge_density:
      return use(ChargeDensity{});
    case Kind::heat_density:  // one C++ type with pressure_length, which is what its text is read as
    case Kind::pressure_length:
      return use(PressureLength{});
    case Kind::pressure_rate:
      return use(PressureRate{});
    case Kind::thermal_conductivity:
      return use(ThermalConductivity{});
    case Kind::specific_heat:
      return use(SpecificHeat{});
    case Kind::temperature_difference:
      return use(TemperatureDifference{});
    case Kind::temperature:
      return use(Temperature{});
    case Kind::ratio:
      return use(Ratio{});
    case Kind::count:
      break;
  }
  return use(Count{});
}

inline constexpr int kind_count = static_cast<int>(vacuary::Kind::count) + 1;

}  // namespace any_kind
