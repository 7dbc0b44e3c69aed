// Thickness from a quartz crystal that slows down as film loads it (Z-match).
//
//   (Q1) t = N rho_q / (pi rho_f f_c Z) atan(Z tan(pi (f_q - f_c) / f_q))
//   (Q2) mass sensitivity for a light load: rho_q N / f_q^2
//
// f_q unloaded and f_c loaded frequency, N frequency constant of AT-cut quartz, rho_q its density, Z the
// ratio of acoustic impedances of quartz and film.
// Range: load up to about 70 % of the crystal's mass when Z is known; AT cut, film stiff and dense as its
// Z says. A crystal in a fixed place sees the standing beam, not the turn: a tooling factor must hold the
// duty. Source: C. Lu and O. Lewis, J. Appl. Phys. 43, 4385 (1972).
#pragma once

#include <string_view>

#include "quantity/types.hpp"

namespace vacuary::physics {

inline constexpr double quartz_density_kg_per_m3 = 2648;
inline constexpr double quartz_frequency_constant_hz_m = 1668;

struct CrystalFilm {
  std::string_view symbol;
  double density_kg_per_m3;
  double z_ratio;
};
// nullptr for a material that is not in the table (Al, Ag, Ni, Si, Ti, Au).
[[nodiscard]] const CrystalFilm* find_crystal_film(std::string_view symbol);

[[nodiscard]] Length crystal_thickness(Frequency unloaded, Frequency loaded, MassDensity density,
                                       Ratio z);  // (Q1)
// (Q2) in kg per m2 and hertz.
[[nodiscard]] double crystal_sensitivity_kg_per_m2_hz(Frequency unloaded);

}  // namespace vacuary::physics
