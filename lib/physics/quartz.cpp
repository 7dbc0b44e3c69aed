#include "physics/quartz.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace vacuary::physics {
namespace {

constexpr std::array<CrystalFilm, 6> films{{
    {"Al", 2700, 1.080},
    {"Ag", 10500, 0.529},
    {"Ni", 8910, 0.331},
    {"Si", 2320, 0.712},
    {"Ti", 4500, 0.628},
    {"Au", 19300, 0.381},
}};

}  // namespace

const CrystalFilm* find_crystal_film(std::string_view symbol) {
  for (const CrystalFilm& film : films) {
    if (film.symbol == symbol) return &film;
  }
  return nullptr;
}

Length crystal_thickness(Frequency unloaded, Frequency loaded, MassDensity density, Ratio z) {
  using std::numbers::pi;
  const double fq = unloaded.value(), fc = loaded.value();
  const double angle = std::atan(z.value() * std::tan(pi * (fq - fc) / fq));
  return Length::from_value(quartz_frequency_constant_hz_m * quartz_density_kg_per_m3 * angle /
                            (pi * density.value() * fc * z.value()));  // (Q1)
}

double crystal_sensitivity_kg_per_m2_hz(Frequency unloaded) {
  return quartz_density_kg_per_m3 * quartz_frequency_constant_hz_m /
         (unloaded.value() * unloaded.value());  // (Q2)
}

}  // namespace vacuary::physics
