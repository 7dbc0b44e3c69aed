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
const double unknown_pressure_uncertainty = 0.5 / std::sqrt(3.0);  // within half of the calibrated: assumed
constexpr double doubtful_pressure_factor = 2;

double watt_hours_k(Energy e) { return e.value() / 3.6e6; }

double erosion_factor(const plan::Cathode& cathode, Energy used) {
  const double rated = cathode.energy_rated.value.value();
  const double loss = cathode.rate_loss_over_life.value.value();
  const auto rate = [&](Energy e) { return std::max(1 - loss * e.value() / rated, 0.01); };
  return rate(used) / rate(cathode.calibration.energy_used.value);
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

void judge_voltage(const plan::Cathode& cathode, Voltage voltage, const FilmRate& rate,
                   const FilmRate::At& now, FilmPerEnergy& film) {
  const plan::Calibration& c = cathode.calibration;
  if (!now.voltage_known) {
    refuse(film, "the cathode voltage is not known");
    return;
  }
  if (!now.voltage_in_band) {
    refuse(film,
           fmt::format("the cathode voltage of {:.0f} V is outside the calibrated {:.0f} V +/- {:.0f} V",
                       voltage.value(), c.voltage.value.value(), c.voltage_band.value.value()));
  }
  if (!rate.corrects_voltage()) {
    film.assumed.push_back(
        fmt::format("no sputter yield is known for {}: film per energy not corrected for voltage",
                    cathode.material.value));
  }
}

void tell_doubts(const plan::Cathode& cathode, Pressure pressure, Energy energy_used, const FilmRate::At& now,
                 FilmPerEnergy& film) {
  if ((now.doubts & FilmRate::pressure_unknown) != 0) {
    film.doubts.emplace_back(
        "the working pressure is not known: film per energy taken at the calibrated pressure, as if that "
        "were right to within half of it");
  }
  if ((now.doubts & FilmRate::pressure_far) != 0) {
    film.doubts.push_back(
        fmt::format("the pressure of {:.3g} Pa is more than a factor {} from the calibrated {:.3g} Pa",
                    pressure.value(), doubtful_pressure_factor, cathode.calibration.pressure.value.value()));
  }
  if ((now.doubts & FilmRate::target_worn) != 0) {
    film.doubts.push_back(fmt::format("the target has used {:.0f} kWh, more than its rated {:.0f} kWh",
                                      watt_hours_k(energy_used), watt_hours_k(cathode.energy_rated.value)));
  }
}

// Scattered atoms that land all the same make up for a part of the straight ones' loss.
double sensitivity(const plan::Cathode& cathode, Pressure pressure, Ratio straight) {
  const double slope =
      physics::transport_sensitivity(pressure, cathode.throw_distance.value, cathode.p0d0.value).value();
  const double lost_for_good = 1 - cathode.calibration.diffuse_share.value.value();
  return slope * lost_for_good * straight.value();
}

}  // namespace

FilmRate::FilmRate(const plan::Cathode& cathode) : cathode_(&cathode) {
  const plan::Calibration& c = cathode.calibration;
  if (const physics::TargetElement* target = physics::find_target(cathode.material.value)) {
    const physics::ArgonYield yield(*target);
    yield_per_volt_ = yield.at(c.voltage.value).value() / c.voltage.value.value();
    if (yield_per_volt_ > 0) yield_ = yield;
  }
  arriving_ = arriving_share(cathode, c.pressure.value).value();
  straight_ = straight_share(cathode, c.pressure.value);
  sensitivity_ = sensitivity(cathode, c.pressure.value, straight_);
}

void FilmRate::At::add(const char* name, double u, double contribution) {
  if (contribution > 1e-9) inputs[input_count++] = {name, u, contribution};
}

// Relative change of film per energy with voltage at constant power: yield(V)/V.
double FilmRate::by_voltage(Voltage voltage, At& now) const {
  now.voltage_known = std::isfinite(voltage.value()) && voltage.value() > 0;
  if (!now.voltage_known) return 1;
  const plan::Calibration& c = cathode_->calibration;
  const double off = voltage.value() - c.voltage.value.value();
  now.voltage_in_band = !(std::abs(off) > c.voltage_band.value.value());
  if (!yield_) {
    now.add("voltage (not corrected)", std::abs(off) / c.voltage.value.value(),
            0.5 * std::abs(off) / c.voltage.value.value());
    return 1;
  }
  const double factor = yield_->at(voltage).value() / voltage.value() / yield_per_volt_;
  if (factor <= 0) return 1;  // below the threshold of sputtering: never claimed
  now.add("voltage correction, yield(V)/V", yield_correction_uncertainty,
          yield_correction_uncertainty * std::abs(factor - 1));
  return factor;
}

double FilmRate::by_pressure(Pressure pressure, At& now) const {
  if (!std::isfinite(pressure.value()) || pressure.value() <= 0) {
    now.doubts |= pressure_unknown;
    now.straight = straight_;
    now.add("working pressure not known", unknown_pressure_uncertainty,
            unknown_pressure_uncertainty * std::abs(sensitivity_));
    return 1;
  }
  const ArrivingShares shares = arriving_shares(*cathode_, pressure);
  now.straight = shares.straight;
  const double factor = shares.all.value() / arriving_;
  const double slope = sensitivity(*cathode_, pressure, now.straight);
  now.pressure_sensitivity = Ratio::of(slope);
  now.add("gas transport away from the calibrated pressure (p0d0)", p0d0_uncertainty,
          p0d0_uncertainty * std::abs(slope - sensitivity_));
  const double distance = pressure.value() / cathode_->calibration.pressure.value.value();
  if (distance > doubtful_pressure_factor || distance < 1 / doubtful_pressure_factor)
    now.doubts |= pressure_far;
  return factor;
}

FilmRate::At FilmRate::at(Voltage voltage, Pressure pressure, Energy energy_used) const {
  const plan::Calibration& c = cathode_->calibration;
  At now;
  now.add("film per energy (calibration)", c.uncertainty.value.value(), c.uncertainty.value.value());
  const double voltage_factor = by_voltage(voltage, now);
  const double pressure_factor = by_pressure(pressure, now);
  const double by_erosion = erosion_factor(*cathode_, energy_used);
  now.add("target erosion since the calibration", erosion_correction_uncertainty,
          erosion_correction_uncertainty * std::abs(by_erosion - 1));
  if (energy_used > cathode_->energy_rated.value) now.doubts |= target_worn;
  now.value = c.film_per_energy.value * (voltage_factor * pressure_factor * by_erosion);
  return now;
}

FilmPerEnergy film_per_energy(const plan::Chamber& /*chamber*/, const plan::Cathode& cathode, Voltage voltage,
                              Pressure pressure, Energy energy_used, const std::string& gas) {
  const FilmRate rate(cathode);
  const FilmRate::At now = rate.at(voltage, pressure, energy_used);
  FilmPerEnergy film;
  film.value.value = now.value;
  check_identity(cathode, gas, film);
  judge_voltage(cathode, voltage, rate, now, film);
  tell_doubts(cathode, pressure, energy_used, now, film);
  double variance = 0;
  for (std::size_t i = 0; i < now.input_count; ++i) {
    const FilmRate::Input& input = now.inputs[i];
    film.budget.push_back(
        {input.name, Ratio::of(input.standard_uncertainty), Ratio::of(input.contribution), {}});
    variance += input.contribution * input.contribution;
  }
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
  return Ratio::of(sensitivity(cathode, pressure, straight_share(cathode, pressure)));
}

}  // namespace vacuary::model
