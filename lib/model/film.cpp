// Film per energy: the calibration carried to the state the cathode is in.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "model/chamber_state.hpp"
#include "model/film_map.hpp"
#include "model/model.hpp"

namespace vacuary::model {
namespace {

// How far the corrections themselves are trusted: their own relative standard uncertainty.
constexpr double yield_correction_uncertainty = 0.5;  // the slope of yield(V)/V
constexpr double erosion_correction_uncertainty = 0.25;
constexpr double doubtful_pressure_factor = 2;

double watt_hours_k(Energy e) { return e.value() / 3.6e6; }

// Relative change of film per energy with voltage at constant power: yield(V)/V.
std::optional<double> voltage_factor(const plan::Cathode& cathode, Voltage voltage) {
  const physics::TargetElement* target = physics::find_target(cathode.material.value);
  if (target == nullptr) return std::nullopt;
  const Voltage there = cathode.calibration.voltage.value;
  const double at_calibration = physics::argon_yield(*target, there).value() / there.value();
  const double now = physics::argon_yield(*target, voltage).value() / voltage.value();
  if (at_calibration <= 0) return std::nullopt;
  return now / at_calibration;
}

double erosion_factor(const plan::Cathode& cathode, Energy used) {
  const double rated = cathode.energy_rated.value.value();
  const double loss = cathode.rate_loss_over_life.value.value();
  const auto rate = [&](Energy e) { return std::max(1 - loss * e.value() / rated, 0.01); };
  return rate(used) / rate(cathode.calibration.energy_used.value);
}

void add(FilmPerEnergy& film, std::string input, double u, double contribution) {
  if (contribution > 1e-9)
    film.budget.push_back({std::move(input), Ratio::of(u), Ratio::of(contribution), {}});
}

void refuse(FilmPerEnergy& film, const std::string& why) {
  film.claimable = false;
  film.why_not += (film.why_not.empty() ? "" : "; ") + why;
}

void check_identity(const plan::Cathode& cathode, const std::string& gas, FilmPerEnergy& film) {
  const plan::Calibration& c = cathode.calibration;
  if (c.shield.value != cathode.shield.value) {
    refuse(film, fmt::format("the film per energy was measured with shield {}, the cathode has {}",
                             c.shield.value, cathode.shield.value));
  }
  if (c.target_serial.value != cathode.target_serial.value) {
    refuse(film, fmt::format("the film per energy was measured with target {}, the cathode has {}",
                             c.target_serial.value, cathode.target_serial.value));
  }
  if (!gas.empty() && gas != c.gas.value) {
    refuse(film, fmt::format("the film per energy was measured in {}, the gas is {}", c.gas.value, gas));
  }
}

double apply_voltage(const plan::Cathode& cathode, Voltage voltage, FilmPerEnergy& film) {
  const plan::Calibration& c = cathode.calibration;
  if (!std::isfinite(voltage.value()) || voltage.value() <= 0) {
    refuse(film, "the cathode voltage is not known");
    return 1;
  }
  const double off = voltage.value() - c.voltage.value.value();
  if (std::abs(off) > c.voltage_band.value.value()) {
    refuse(film,
           fmt::format("the cathode voltage of {:.0f} V is outside the calibrated {:.0f} V +/- {:.0f} V",
                       voltage.value(), c.voltage.value.value(), c.voltage_band.value.value()));
  }
  const std::optional<double> factor = voltage_factor(cathode, voltage);
  if (!factor) {
    film.assumed.push_back(
        fmt::format("no sputter yield is known for {}: film per energy not corrected for voltage",
                    cathode.material.value));
    add(film, "voltage (not corrected)", std::abs(off) / c.voltage.value.value(),
        0.5 * std::abs(off) / c.voltage.value.value());
    return 1;
  }
  if (*factor <= 0) return 1;  // below the threshold of sputtering: refused above
  add(film, "voltage correction, yield(V)/V", yield_correction_uncertainty,
      yield_correction_uncertainty * std::abs(*factor - 1));
  return *factor;
}

double apply_pressure(const plan::Cathode& cathode, Pressure pressure, FilmPerEnergy& film) {
  const Pressure there = cathode.calibration.pressure.value;
  if (!std::isfinite(pressure.value()) || pressure.value() <= 0) {
    film.doubts.push_back(
        "the working pressure is not known: film per energy taken at the calibrated pressure");
    return 1;
  }
  const double factor = arriving_share(cathode, pressure).value() / arriving_share(cathode, there).value();
  const double slope = film_pressure_sensitivity(cathode, pressure).value() -
                       film_pressure_sensitivity(cathode, there).value();
  add(film, "gas transport away from the calibrated pressure (p0d0)", p0d0_uncertainty,
      p0d0_uncertainty * std::abs(slope));
  const double distance = pressure.value() / there.value();
  if (distance > doubtful_pressure_factor || distance < 1 / doubtful_pressure_factor) {
    film.doubts.push_back(
        fmt::format("the pressure of {:.3g} Pa is more than a factor {} from the calibrated {:.3g} Pa",
                    pressure.value(), doubtful_pressure_factor, there.value()));
  }
  return factor;
}

}  // namespace

FilmPerEnergy film_per_energy(const plan::Chamber& /*chamber*/, const plan::Cathode& cathode, Voltage voltage,
                              Pressure pressure, Energy energy_used, const std::string& gas) {
  const plan::Calibration& c = cathode.calibration;
  FilmPerEnergy film;
  add(film, "film per energy (calibration)", c.uncertainty.value.value(), c.uncertainty.value.value());
  check_identity(cathode, gas, film);
  const double by_voltage = apply_voltage(cathode, voltage, film);
  const double by_pressure = apply_pressure(cathode, pressure, film);
  const double by_erosion = erosion_factor(cathode, energy_used);
  add(film, "target erosion since the calibration", erosion_correction_uncertainty,
      erosion_correction_uncertainty * std::abs(by_erosion - 1));
  if (energy_used > cathode.energy_rated.value) {
    film.doubts.push_back(fmt::format("the target has used {:.0f} kWh, more than its rated {:.0f} kWh",
                                      watt_hours_k(energy_used), watt_hours_k(cathode.energy_rated.value)));
  }
  film.value.value = c.film_per_energy.value * (by_voltage * by_pressure * by_erosion);
  double variance = 0;
  for (const BudgetLine& line : film.budget)
    variance += line.contribution.value() * line.contribution.value();
  for (BudgetLine& line : film.budget) {
    const double share = line.contribution.value() * line.contribution.value();
    line.share = Ratio::of(variance > 0 ? share / variance : 0);
  }
  film.value.standard_uncertainty = film.value.value * std::sqrt(variance);
  film.assumed.push_back(
      fmt::format("transport by p0d0 = {:.3g} Pa cm, known to {:.0f} % at best, and only away from the "
                  "calibrated pressure",
                  cathode.p0d0.value.value() * 100, p0d0_uncertainty * 100));
  return film;
}

Ratio film_pressure_sensitivity(const plan::Cathode& cathode, Pressure pressure) {
  const double slope =
      physics::transport_sensitivity(pressure, cathode.throw_distance.value, cathode.p0d0.value).value();
  // Scattered atoms that land all the same make up for a part of the straight ones' loss.
  const double lost_for_good = 1 - cathode.calibration.diffuse_share.value.value();
  return Ratio::of(slope * lost_for_good * straight_share(cathode, pressure).value());
}

}  // namespace vacuary::model
