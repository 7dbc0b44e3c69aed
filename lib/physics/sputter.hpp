// What a cathode gives up, and whether a claimed film per energy can be true.
//
//   (S1) mass per energy    m / E = Y M / (F V (1 + g))
//   (S2) erosion            v = Y j M / (F rho)
//   (S3) film per energy    kappa = (m / E) c t / (rho A)
//   (S4) power density      P / A
//
// Y atoms per ion, M molar mass, F Faraday constant, V cathode voltage, g electrons per ion (about
// 0.1 for metals), c the share of what leaves that flies to the optic's clear area A through the
// shield, t transport through the gas.
// Range: clean metal target, all current carried at the target by ions and their electrons. (S3) is good
// to about 35 % (yield 25 %, geometry and transport the rest): a check of plausibility, never a calibration.
// Source: (S1), (S2) from the definition of the yield; B. Chapman, Glow Discharge Processes (1980), ch. 6.
#pragma once

#include "quantity/types.hpp"

namespace vacuary::physics {

inline constexpr double faraday_c_per_mol = constants::elementary_charge_c * constants::avogadro_per_mol;

[[nodiscard]] inline MassPerEnergy sputtered_mass_per_energy(Ratio yield, double molar_mass_kg_per_mol,
                                                             Voltage voltage,
                                                             Ratio electrons_per_ion = Ratio::of(0.1)) {
  return MassPerEnergy::from_value(
      yield.value() * molar_mass_kg_per_mol /
      (faraday_c_per_mol * voltage.value() * (1 + electrons_per_ion.value())));  // (S1)
}

[[nodiscard]] inline DepositionRate erosion_rate(Ratio yield, Current current, Area area,
                                                 double molar_mass_kg_per_mol, MassDensity density) {
  return DepositionRate::from_value(yield.value() * current.value() / area.value() * molar_mass_kg_per_mol /
                                    (faraday_c_per_mol * density.value()));  // (S2)
}

[[nodiscard]] inline ThicknessPerEnergy plausible_film_per_energy(MassPerEnergy sputtered, Ratio collected,
                                                                  Ratio transported, MassDensity film_density,
                                                                  Area clear_area) {
  return ThicknessPerEnergy::from_value(sputtered.value() * collected.value() * transported.value() /
                                        (film_density.value() * clear_area.value()));  // (S3)
}
// Relative standard uncertainty of (S3).
[[nodiscard]] inline Ratio plausible_film_uncertainty() { return Ratio::of(0.35); }

[[nodiscard]] inline PowerDensity power_density(Power power, Area area) { return power / area; }  // (S4)

}  // namespace vacuary::physics
