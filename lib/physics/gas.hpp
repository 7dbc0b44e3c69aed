// The gases of coating work: molar mass and kinetic diameter.
//
// Molar masses: IUPAC standard atomic weights (2021, abridged); "air" is the dry mixture of the
// U.S. Standard Atmosphere (1976). Diameters: hard-sphere diameters from viscosity near room
// temperature (Chapman and Cowling, The Mathematical Theory of Non-uniform Gases, 3rd ed., 1970);
// other tables differ by a few percent, water by more.
#pragma once

#include <string_view>

#include "quantity/types.hpp"

namespace vacuary::physics {

struct Gas {
  std::string_view formula;  // as in the plan files: "Ar"
  double molar_mass_kg_per_mol;
  double diameter_m;  // of the hard sphere
};

// nullptr for a gas that is not in the table (H2, He, N2, O2, H2O, Ar, CO2, CO, Kr, air).
[[nodiscard]] const Gas* find_gas(std::string_view formula);

// Mean speed of the molecules, sqrt(8 R T / (pi M)), in m/s.
[[nodiscard]] double mean_speed_m_per_s(const Gas& gas, Temperature temperature);

}  // namespace vacuary::physics
