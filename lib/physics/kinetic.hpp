// Kinetic theory of a dilute gas.
//
//   (K1) mean free path    l = k T / (sqrt(2) pi d^2 p)
//   (K2) impingement       J = p / sqrt(2 pi m k T)        molecules per area and time
//   (K3) monolayer time    t = 1 / (s J a), a the area of one site, s the sticking probability
//   (K4) ratio of arrivals r = J_gas / (rate rho N_A / M)  molecules per metal atom
//
// Range: ideal gas, mean free path above the molecules' distance (any pressure here). (K1) for hard
// spheres: good to some 10 %. (K4) counts arrivals, not what sticks: no published rule ties it to a
// loss of reflectance; a limit is a plant's policy.
// Source: S. Dushman, Scientific Foundations of Vacuum Technique, 2nd ed. (1962), ch. 1.
#pragma once

#include "physics/gas.hpp"
#include "quantity/types.hpp"

namespace vacuary::physics {

[[nodiscard]] Length mean_free_path(const Gas& gas, Temperature temperature, Pressure pressure);  // (K1)
// (K2) as an amount; times Avogadro's constant it is molecules per m2 and second.
[[nodiscard]] MolarFlux impingement(const Gas& gas, Temperature temperature, Pressure pressure);
[[nodiscard]] Duration monolayer_time(const Gas& gas, Temperature temperature, Pressure pressure, Area site,
                                      Ratio sticking = Ratio::of(1));  // (K3)

// What a growing film is made of.
struct FilmMaterial {
  MassDensity density{};
  double molar_mass_kg_per_mol = 0;
};
// Metal atoms landing at `rate`, as an amount.
[[nodiscard]] MolarFlux metal_arrival(const FilmMaterial& film, DepositionRate rate);
// (K4). In the beam: `rate` while the point is under the cathode. Over a turn: the thickness of one
// turn over its time, since gas arrives all the way round.
[[nodiscard]] Ratio gas_per_metal(const Gas& gas, Temperature temperature, Pressure pressure,
                                  const FilmMaterial& film, DepositionRate rate);

}  // namespace vacuary::physics
