#include "physics/gas.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace vacuary::physics {
namespace {

constexpr std::array<Gas, 10> gases{{
    {"H2", 2.016e-3, 2.74e-10},
    {"He", 4.0026e-3, 2.18e-10},
    {"N2", 28.014e-3, 3.75e-10},
    {"O2", 31.998e-3, 3.61e-10},
    {"H2O", 18.015e-3, 4.60e-10},
    {"Ar", 39.948e-3, 3.64e-10},
    {"CO2", 44.009e-3, 4.59e-10},
    {"CO", 28.010e-3, 3.76e-10},
    {"Kr", 83.798e-3, 4.16e-10},
    {"air", 28.9644e-3, 3.70e-10},
}};

}  // namespace

const Gas* find_gas(std::string_view formula) {
  for (const Gas& gas : gases) {
    if (gas.formula == formula) return &gas;
  }
  return nullptr;
}

double mean_speed_m_per_s(const Gas& gas, Temperature temperature) {
  return std::sqrt(8 * constants::gas_j_per_mol_k * thermodynamic(temperature).value() /
                   (std::numbers::pi * gas.molar_mass_kg_per_mol));
}

}  // namespace vacuary::physics
