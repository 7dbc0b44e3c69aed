#include "physics/heat.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::physics {
namespace {

using std::numbers::pi;

double diffusivity_m2_per_s(const Glass& glass) {
  return glass.conductivity.value() / (glass.density.value() * glass.heat_capacity.value());
}

TemperatureDifference kelvin(double k) { return TemperatureDifference::from_value(k); }

}  // namespace

HeatDensity film_heat(const FilmMaterial& film, Length thickness, double energy_per_atom_ev) {
  const double atoms_per_m2 =
      thickness.value() * film.density.value() / film.molar_mass_kg_per_mol * constants::avogadro_per_mol;
  return HeatDensity::from_value(atoms_per_m2 * energy_per_atom_ev * constants::elementary_charge_c);
}

HeatDensity glow_heat(Voltage voltage, Current current, Duration time, Area surface) {
  return HeatDensity::from_value(voltage.value() * current.value() * time.value() / surface.value());
}

TemperatureDifference deep_slab_rise(const Glass& glass, PowerDensity flux, Duration on, Duration t) {
  const double effusivity =
      std::sqrt(glass.conductivity.value() * glass.density.value() * glass.heat_capacity.value());
  const double after_s = std::max(t.value() - on.value(), 0.0);
  return kelvin(2 * flux.value() / (std::sqrt(pi) * effusivity) *
                (std::sqrt(std::max(t.value(), 0.0)) - std::sqrt(after_s)));
}

TemperatureDifference thin_sheet_rise(const Glass& glass, HeatDensity heat) {
  return kelvin(heat.value() /
                (glass.density.value() * glass.heat_capacity.value() * glass.thickness.value()));
}

SlabRise slab_rise(const Glass& glass, PowerDensity flux, Duration time) {
  const double scale_k = flux.value() * glass.thickness.value() / glass.conductivity.value();
  const double f =
      diffusivity_m2_per_s(glass) * time.value() / (glass.thickness.value() * glass.thickness.value());
  if (f < 0.01)
    return {deep_slab_rise(glass, flux, time, time), kelvin(0)};  // the series needs many terms; e^-25
  double front = 0, back = 0;
  for (int n = 1; n <= 60; ++n) {
    const double term = std::exp(-n * n * pi * pi * f) / (n * n);
    front += term;
    back += (n % 2 == 0 ? term : -term);
  }
  const double two_over_pi2 = 2 / (pi * pi);
  return {kelvin(scale_k * (f + 1.0 / 3 - two_over_pi2 * front)),
          kelvin(scale_k * (f - 1.0 / 6 - two_over_pi2 * back))};
}

Length diffusion_depth(const Glass& glass, Duration time) {
  return Length::from_value(std::sqrt(diffusivity_m2_per_s(glass) * time.value()));
}

}  // namespace vacuary::physics
