// Conductance of openings and tubes.
//
//   (C1) aperture, molecular flow       C = A v / 4,  v = sqrt(8 R T / (pi M))
//   (C2) long tube, molecular flow      C = pi d^3 v / (12 L)
//   (C3) tube of any length, molecular  C = alpha A v / 4,  alpha = 1 / (1 + 3 L / (4 d))
//   (C4) long tube, viscous (Poiseuille)  C = pi d^4 p / (128 eta L), p the mean pressure
//   (C5) long tube, any regime          Knudsen's interpolation, see tube_conductance()
//   (C6) series                         1/C = sum 1/C_i;  parallel  C = sum C_i
//
// Range: (C1), (C2), (C3) need a mean free path well above the opening (Knudsen number d-based
// above about 0.5); (C2) L over 20 d; (C3) is Dushman's interpolation and is up to 12 % high near L = d;
// (C4) Knudsen number below about 0.01, laminar, not choked: at the start of a pumpdown a real
// line is choked or turbulent and conducts less.
// Source: M. Knudsen, Ann. Phys. 333, 75 (1909); S. Dushman, Scientific Foundations of Vacuum
// Technique, 2nd ed. (1962), ch. 2.
#pragma once

#include <initializer_list>

#include "physics/gas.hpp"
#include "quantity/types.hpp"

namespace vacuary::physics {

struct Tube {
  Length diameter{};
  Length length{};
};

[[nodiscard]] PumpingSpeed aperture_conductance(const Gas& gas, Temperature temperature, Area area);
[[nodiscard]] PumpingSpeed long_tube_conductance(const Gas& gas, Temperature temperature, const Tube& tube);
[[nodiscard]] PumpingSpeed tube_conductance_molecular(const Gas& gas, Temperature temperature,
                                                      const Tube& tube);
// Viscosity from the hard-sphere diameter (Chapman-Enskog, first order):
// eta = 5/16 sqrt(m k T / pi) / d^2, in Pa s.
[[nodiscard]] double viscosity_pa_s(const Gas& gas, Temperature temperature);
// (C5) Knudsen's formula for a long tube at mean pressure p:
//   C = C4 + C2 (1 + x c) / (1 + 1.24 x c),  x = d p / eta, c = sqrt(M / (R T))
[[nodiscard]] PumpingSpeed tube_conductance(const Gas& gas, Temperature temperature, const Tube& tube,
                                            Pressure mean_pressure);
// (C6). An empty list, or a zero in it, is no conductance at all.
[[nodiscard]] PumpingSpeed in_series(std::initializer_list<PumpingSpeed> conductances);

}  // namespace vacuary::physics
