#include "physics/kinetic.hpp"

#include <cmath>
#include <numbers>

namespace vacuary::physics {

using std::numbers::pi;

Length mean_free_path(const Gas& gas, Temperature temperature, Pressure pressure) {
  const double kt_j = constants::boltzmann_j_per_k * thermodynamic(temperature).value();
  return Length::from_value(kt_j /
                            (std::numbers::sqrt2 * pi * gas.diameter_m * gas.diameter_m * pressure.value()));
}

MolarFlux impingement(const Gas& gas, Temperature temperature, Pressure pressure) {
  return MolarFlux::from_value(pressure.value() /
                               std::sqrt(2 * pi * gas.molar_mass_kg_per_mol * constants::gas_j_per_mol_k *
                                         thermodynamic(temperature).value()));
}

Duration monolayer_time(const Gas& gas, Temperature temperature, Pressure pressure, Area site,
                        Ratio sticking) {
  const double per_m2_s = impingement(gas, temperature, pressure).value() * constants::avogadro_per_mol;
  return Duration::from_value(1 / (sticking.value() * per_m2_s * site.value()));
}

MolarFlux metal_arrival(const FilmMaterial& film, DepositionRate rate) {
  return MolarFlux::from_value(rate.value() * film.density.value() / film.molar_mass_kg_per_mol);
}

Ratio gas_per_metal(const Gas& gas, Temperature temperature, Pressure pressure, const FilmMaterial& film,
                    DepositionRate rate) {
  return Ratio::of(impingement(gas, temperature, pressure).value() /
                   metal_arrival(film, rate).value());  // (K4)
}

}  // namespace vacuary::physics
