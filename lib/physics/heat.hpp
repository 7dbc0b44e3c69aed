// Heating of the optic by what lands on it.
//
//   (H1) film           H = n E_atom, n = thickness rho N_A / M, E_atom about 20 eV per atom
//                       (condensation, kinetic energy, plasma and reflected argon together)
//   (H2) glow           H <= V I t / A
//   (H3) deep slab      dT = 2 q / sqrt(pi k rho c) (sqrt(t) - sqrt(t - t_on))
//   (H4) thin sheet     dT = H / (rho c d)
//   (H5) slab of thickness d, back insulated, steady flux q, F = a t / d^2, a = k / (rho c):
//        dT_front = (q d / k) (F + 1/3 - (2 / pi^2) sum exp(-n^2 pi^2 F) / n^2)
//        dT_back  = (q d / k) (F - 1/6 - (2 / pi^2) sum (-1)^n exp(-n^2 pi^2 F) / n^2)
//
// Range: no loss of heat by radiation or to supports (upper bounds); properties constant. (H3) while
// sqrt(a t) stays well below d; (H4) when it is well above. (H1): 10 to 40 eV per atom are reported for
// magnetrons, so it is good to a factor of two.
// Source: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), 2.9 and 3.8; J. A.
// Thornton, Thin Solid Films 54, 23 (1978), for the energy per atom.
#pragma once

#include "physics/kinetic.hpp"
#include "quantity/types.hpp"

namespace vacuary::physics {

inline constexpr double film_energy_per_atom_ev = 20;

struct Glass {
  MassDensity density{};
  ThermalConductivity conductivity{};
  SpecificHeat heat_capacity{};
  Length thickness{};
};

[[nodiscard]] HeatDensity film_heat(const FilmMaterial& film, Length thickness,
                                    double energy_per_atom_ev = film_energy_per_atom_ev);            // (H1)
[[nodiscard]] HeatDensity glow_heat(Voltage voltage, Current current, Duration time, Area surface);  // (H2)

// (H3) at time `t` for a flux that was on from 0 to `on`; `t` may be within it.
[[nodiscard]] TemperatureDifference deep_slab_rise(const Glass& glass, PowerDensity flux, Duration on,
                                                   Duration t);
[[nodiscard]] TemperatureDifference thin_sheet_rise(const Glass& glass, HeatDensity heat);  // (H4)

struct SlabRise {
  TemperatureDifference front{}, back{};
};
[[nodiscard]] SlabRise slab_rise(const Glass& glass, PowerDensity flux, Duration time);  // (H5)
// How deep heat has gone after `time`: sqrt(a t).
[[nodiscard]] Length diffusion_depth(const Glass& glass, Duration time);

}  // namespace vacuary::physics
