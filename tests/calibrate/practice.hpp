// Strips laid by the rehearsal's time-stepping code, for the fit to find the truth in.
#pragma once

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "physics/uncertainty.hpp"
#include "plan/strip.hpp"
#include "rehearse/strip.hpp"

namespace vacuary::calibrate_test {

inline const plan::Plan& tarn_ridge() {
  static const Result<plan::Plan> loaded =
      plan::load(std::string(VACUARY_SOURCE_DIR) + "/recipes/tarn-ridge/aluminium-90nm.toml");
  REQUIRE(loaded.ok());
  return loaded.value();
}

inline rehearse::StripTruth nominal(const plan::Plan& plan) {
  const plan::Cathode& c = plan.chamber.cathodes.front();
  rehearse::StripTruth truth;
  truth.film_per_energy_m_per_j = c.calibration.film_per_energy.value.value();
  truth.exponent = c.emission_exponent.value.value();
  truth.throw_m = c.throw_distance.value.value();
  truth.p0d0_pa_m = c.p0d0.value.value();
  truth.stated_pressure_pa = 0.3;
  return truth;
}

inline std::vector<double> spread(double from, double to, std::size_t n) {
  std::vector<double> out;
  for (std::size_t i = 0; i < n; ++i)
    out.push_back(n == 1 ? from : from + (to - from) * static_cast<double>(i) / static_cast<double>(n - 1));
  return out;
}

inline rehearse::StripShot shot(bool shielded, double pressure_pa, std::vector<double> radii_m) {
  return {shielded, 3 * 3.6e6, pressure_pa, 6, 1.0, std::move(radii_m)};
}

// The strip a person would write down: film_m[shot][point] is what the gauge read.
inline plan::Strip written(const plan::Plan& plan, const std::vector<rehearse::StripShot>& shots,
                           const std::vector<std::vector<double>>& film_m, double relative) {
  const plan::Cathode& c = plan.chamber.cathodes.front();
  plan::Strip strip;
  strip.name.value = "practice";
  strip.cathode.value = c.name.value;
  strip.gauge_uncertainty.value = Ratio::percent(1);
  strip.energy_repeat.value = Ratio::percent(0.3);
  for (std::size_t e = 0; e < shots.size(); ++e) {
    plan::Exposure exposure;
    exposure.shield.value = shots[e].shielded ? c.shield.value : "";
    exposure.target_serial = c.target_serial;
    exposure.gas.value = "Ar";
    exposure.date.value = "2031-03-04";
    exposure.energy.value = Energy::from_value(shots[e].energy_j);
    exposure.energy.unit = unit("kWh", Kind::energy);
    exposure.energy_used.value = c.calibration.energy_used.value - 0.5 * exposure.energy.value;
    exposure.energy_used.unit = unit("kWh", Kind::energy);
    exposure.pressure.value = Pressure::from_value(shots[e].pressure_pa);
    exposure.pressure.unit = unit("Pa", Kind::pressure);
    exposure.voltage = c.calibration.voltage;
    exposure.turns.value = Count::of(shots[e].turns);
    for (std::size_t i = 0; i < shots[e].radii_m.size(); ++i) {
      plan::StripPoint point;
      point.radius.value = Length::from_value(shots[e].radii_m[i]);
      point.thickness.value = Length::from_value(film_m[e][i]);
      point.uncertainty.value = Length::from_value(relative * film_m[e][i]);
      exposure.points.push_back(point);
    }
    strip.exposures.push_back(std::move(exposure));
  }
  return strip;
}

inline std::vector<std::vector<double>> laid(const plan::Cathode& cathode, const plan::Optic& optic,
                                             const rehearse::StripTruth& truth,
                                             const std::vector<rehearse::StripShot>& shots) {
  std::vector<std::vector<double>> film;
  for (const rehearse::StripShot& each : shots) film.push_back(strip_film_m(cathode, optic, truth, each));
  return film;
}

}  // namespace vacuary::calibrate_test
