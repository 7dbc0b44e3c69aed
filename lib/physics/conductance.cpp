#include "physics/conductance.hpp"

#include <cmath>
#include <numbers>

namespace vacuary::physics {

using std::numbers::pi;

PumpingSpeed aperture_conductance(const Gas& gas, Temperature temperature, Area area) {
  return PumpingSpeed::from_value(area.value() * mean_speed_m_per_s(gas, temperature) / 4);  // (C1)
}

PumpingSpeed long_tube_conductance(const Gas& gas, Temperature temperature, const Tube& tube) {
  const double d = tube.diameter.value();
  return PumpingSpeed::from_value(pi * d * d * d * mean_speed_m_per_s(gas, temperature) /
                                  (12 * tube.length.value()));  // (C2)
}

PumpingSpeed tube_conductance_molecular(const Gas& gas, Temperature temperature, const Tube& tube) {
  const double d = tube.diameter.value();
  const double transmission = 1 / (1 + 0.75 * tube.length.value() / d);
  return PumpingSpeed::from_value(transmission * pi * d * d / 4 * mean_speed_m_per_s(gas, temperature) /
                                  4);  // (C3)
}

double viscosity_pa_s(const Gas& gas, Temperature temperature) {
  const double mass_kg = gas.molar_mass_kg_per_mol / constants::avogadro_per_mol;
  const double kt_j = constants::boltzmann_j_per_k * thermodynamic(temperature).value();
  return 5.0 / 16.0 * std::sqrt(mass_kg * kt_j / pi) / (gas.diameter_m * gas.diameter_m);
}

PumpingSpeed tube_conductance(const Gas& gas, Temperature temperature, const Tube& tube,
                              Pressure mean_pressure) {
  const double d = tube.diameter.value();
  const double eta = viscosity_pa_s(gas, temperature);
  const double viscous =
      pi * d * d * d * d * mean_pressure.value() / (128 * eta * tube.length.value());  // (C4)
  const double x = d * mean_pressure.value() / eta *
                   std::sqrt(gas.molar_mass_kg_per_mol /
                             (constants::gas_j_per_mol_k * thermodynamic(temperature).value()));
  return PumpingSpeed::from_value(viscous + long_tube_conductance(gas, temperature, tube).value() * (1 + x) /
                                                (1 + 1.24 * x));  // (C5)
}

PumpingSpeed in_series(std::initializer_list<PumpingSpeed> conductances) {
  double resistance = 0;
  for (const PumpingSpeed& c : conductances) {
    if (c.value() <= 0) return PumpingSpeed{};
    resistance += 1 / c.value();
  }
  return resistance > 0 ? PumpingSpeed::from_value(1 / resistance) : PumpingSpeed{};  // (C6)
}

}  // namespace vacuary::physics
