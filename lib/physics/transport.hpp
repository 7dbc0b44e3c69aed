// How much of what is sputtered crosses the gas to the optic, relative to no gas.
//
//   (T1)  F = (1 - exp(-x)) / x,   x = p d / p0d0
//
// p0d0 is the characteristic pressure-distance product of the metal in the gas; it must be
// measured on the plant, or assumed and said so. F(x -> 0) = 1.
// Range: x up to about 3; beyond it what lands is diffuse and a share of a straight beam no more.
// Gas heating by the discharge thins the gas and is inside p0d0 only at the power it was found at.
// Source: J. H. Keller and R. G. Simmons, IBM J. Res. Dev. 23, 24 (1979).
#pragma once

#include "quantity/types.hpp"

namespace vacuary::physics {

[[nodiscard]] Ratio transported_share(Pressure pressure, Length distance, PressureLength p0d0);

// d ln F / d ln x = x exp(-x) / (1 - exp(-x)) - 1: between 0 (no gas) and -1. The sensitivity of the film to
// a relative change of pressure; with the sign changed, that to p0d0.
[[nodiscard]] Ratio transport_sensitivity(Pressure pressure, Length distance, PressureLength p0d0);

}  // namespace vacuary::physics
