// Residual gas, heat and the clean, by the models of `physics`.
#include "model/quality.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "model/model.hpp"
#include "physics/physics.hpp"

namespace vacuary::model {
namespace {

using plan::StepKind;

// Electrons per ion: a clean electrode under slow ions, and an oxidised one.
constexpr double gamma_clean = 0.01, gamma_oxidised = 0.1;
// Electrode to nearest wall.
constexpr double shortest_gap_m = 0.05;
constexpr double film_heat_known_to = 2;  // 10 to 40 eV per atom are reported

double surfaces_m2(const plan::Chamber& chamber) {
  double area_m2 = 0;
  for (const plan::Surface& surface : chamber.surfaces) area_m2 += surface.area.value.value();
  return area_m2;
}

physics::Glass glass_of(const plan::Optic& optic) {
  return {optic.glass_density.value, optic.conductivity.value, optic.heat_capacity.value,
          optic.face_thickness.value};
}

Heating conducted(const plan::Optic& optic, HeatDensity heat, Duration time) {
  const physics::Glass glass = glass_of(optic);
  const physics::SlabRise rise = physics::slab_rise(glass, heat / time, time);
  Heating h;
  h.heat = heat;
  h.front = rise.front;
  h.back = rise.back;
  h.depth = physics::diffusion_depth(glass, time);
  return h;
}

// The least voltage that strikes somewhere in a chamber that offers every distance between the two:
// the curve has one minimum, so the best distance is the one nearest to it.
std::optional<Voltage> least_voltage(const physics::PaschenGas& gas, double gamma, Pressure pressure,
                                     double size_m) {
  const double best_m = physics::paschen_minimum(gas, Ratio::of(gamma)).x.value() / pressure.value();
  const double distance_m = std::clamp(best_m, shortest_gap_m, size_m);
  return physics::breakdown_voltage(gas, PressureLength::from_value(pressure.value() * distance_m),
                                    Ratio::of(gamma));
}

}  // namespace

// ---------------------------------------------------------------- residual gas

double ResidualGas::known_to() const {
  return std::exp(2 * per_turn.standard_uncertainty.value() / per_turn.value.value());
}

Pressure water_in_discharge(const plan::Chamber& chamber, const plan::Step& step, MolarFlow load) {
  const double throttle = step.throttle ? step.throttle->value.value() : 1;
  const double speed_m3_per_s = high_vacuum_speed(chamber, "H2O").value() * throttle;
  const double desorption = chamber.plasma_desorption ? chamber.plasma_desorption->value.value() : 1;
  if (!(speed_m3_per_s > 0)) return Pressure{};
  return Pressure::from_value(desorption * throughput(load, chamber.gas_temperature.value).pa_m3_per_s() /
                              speed_m3_per_s);
}

std::optional<ResidualGas> residual_gas(const plan::Plan& plan, const plan::Cathode& cathode, Pressure water,
                                        Ratio water_uncertainty, DepositionRate turn_average) {
  const physics::TargetElement* metal = physics::find_target(cathode.material.value);
  if (metal == nullptr || !plan.optic || !(turn_average.value() > 0) || !(water.value() > 0))
    return std::nullopt;
  const physics::FilmMaterial film{plan.optic->film.density.value, metal->molar_mass_g_per_mol / 1000};
  const auto ratio = [&](DepositionRate rate) {
    return physics::gas_per_metal(*physics::find_gas("H2O"), plan.chamber.gas_temperature.value, water, film,
                                  rate)
        .value();
  };
  const double turns_over_beam = 2 * std::numbers::pi / beam_width(cathode, *plan.optic).value();
  ResidualGas gas;
  gas.water = water;
  const double turn = ratio(turn_average);
  const double beam = ratio(turn_average * turns_over_beam);
  constexpr double beam_uncertainty = 0.05;  // throw, exponent, opening and scattered share as stated
  const double u = water_uncertainty.value();
  gas.per_turn = {Ratio::of(turn), Ratio::of(turn * u)};
  gas.in_beam = {Ratio::of(beam), Ratio::of(beam * std::hypot(u, beam_uncertainty))};
  gas.assumed.push_back(fmt::format(
      "all residual gas counted as water, {:.2g} Pa in the discharge, arriving as kinetic theory says",
      water.value()));
  gas.assumed.emplace_back("water is throttled together with the argon");
  gas.assumed.push_back(
      plan.chamber.plasma_desorption
          ? fmt::format("the discharge makes {:.3g} times the water there is without it (chamber file)",
                        plan.chamber.plasma_desorption->value.value())
          : std::string("the discharge sets no water free: the chamber file states no plasma_desorption"));
  return gas;
}

// ---------------------------------------------------------------- heat

std::optional<Heating> film_heating(const plan::Plan& plan, const plan::Cathode& cathode, Length film,
                                    Duration time, std::optional<Duration> turn) {
  const physics::TargetElement* metal = physics::find_target(cathode.material.value);
  if (metal == nullptr || !plan.optic || !(film.value() > 0) || !(time.value() > 0)) return std::nullopt;
  const HeatDensity heat =
      physics::film_heat({plan.optic->film.density.value, metal->molar_mass_g_per_mol / 1000}, film);
  Heating h = conducted(*plan.optic, heat, time);
  h.known_to = film_heat_known_to;
  h.from =
      fmt::format("the film at {:.3g} eV per atom, averaged over the step", physics::film_energy_per_atom_ev);
  if (turn && *turn <= time) {
    const double share = beam_width(cathode, *plan.optic).value() / (2 * std::numbers::pi);
    const Duration pass = *turn * share;
    h.pass = physics::slab_rise(glass_of(*plan.optic), heat / time / share, pass).front;
  }
  return h;
}

std::optional<Heating> glow_heating(const plan::Plan& plan, Energy energy, Duration time) {
  const double area_m2 = surfaces_m2(plan.chamber);
  if (!plan.optic || !(area_m2 > 0) || !(energy.value() > 0) || !(time.value() > 0)) return std::nullopt;
  Heating h = conducted(*plan.optic, energy / Area::from_value(area_m2), time);
  h.from = fmt::format("all power of the glow spread evenly over {:.3g} m2 of surfaces", area_m2);
  return h;
}

// ---------------------------------------------------------------- the clean

std::optional<ChargeDensity> clean_dose(const plan::Chamber& chamber, Charge charge) {
  const double area_m2 = surfaces_m2(chamber);
  if (!(area_m2 > 0)) return std::nullopt;
  return ChargeDensity::from_value(charge.value() / area_m2);
}

ChargeDensity one_layer() { return ChargeDensity::from_value(sites_per_m2 * constants::elementary_charge_c); }

std::optional<Strike> strike(const plan::Chamber& chamber, const std::string& gas, Pressure pressure,
                             Voltage voltage) {
  const physics::PaschenGas* known = physics::find_paschen(gas);
  if (known == nullptr || !(pressure.value() > 0)) return std::nullopt;
  const double size_m = std::max(std::cbrt(chamber.volume.value.value()), shortest_gap_m);
  Strike s;
  s.gas = gas;
  s.shortest = Length::from_value(shortest_gap_m);
  s.longest = Length::from_value(size_m);
  s.oxidised = least_voltage(*known, gamma_oxidised, pressure, size_m);
  s.clean = least_voltage(*known, gamma_clean, pressure, size_m);
  s.least = physics::paschen_minimum(*known, Ratio::of(gamma_clean)).voltage;
  // The longest path strikes at the lowest pressure, the shortest at the highest.
  if (const auto far = physics::strike_window(*known, s.longest, voltage, Ratio::of(gamma_clean)))
    s.lowest = far->low;
  if (const auto near = physics::strike_window(*known, s.shortest, voltage, Ratio::of(gamma_clean)))
    s.highest = near->high;
  return s;
}

// ---------------------------------------------------------------- all of a prediction

namespace {

void add_film_quality(const plan::Plan& plan, const plan::Step& step, Duration pumped, StepPrediction& s) {
  const plan::Cathode* cathode = step.cathode ? plan::cathode(plan.chamber, step.cathode->value) : nullptr;
  if (cathode == nullptr || !s.film || !s.duration || !(s.duration->value.value() > 0)) return;
  const double relative = std::hypot(outgassing_uncertainty, speed_uncertainty, desorption_uncertainty);
  const auto rate = DepositionRate::from_value(s.film->value.value() / s.duration->value.value());
  s.residual =
      residual_gas(plan, *cathode, water_in_discharge(plan.chamber, step, outgassing(plan.chamber, pumped)),
                   Ratio::of(relative), rate);
  if (s.residual) {
    s.residual->assumed.push_back(fmt::format(
        "outgassing as in the chamber file, known to {:.0f} % (standard)", 100 * outgassing_uncertainty));
  }
  std::optional<Duration> turn;
  if (step.rotation && step.rotation->value.value() > 0)
    turn = Duration::from_value(2 * std::numbers::pi / step.rotation->value.value());
  s.heating = film_heating(plan, *cathode, s.film->value, s.duration->value, turn);
}

void add_clean_quality(const plan::Plan& plan, const plan::Step& step, StepPrediction& s) {
  if (!s.duration || !step.current) return;
  s.clean_dose = clean_dose(plan.chamber, step.current->value * s.duration->value);
  if (step.voltage) {
    s.heating =
        glow_heating(plan, step.voltage->value * step.current->value * s.duration->value, s.duration->value);
  }
}

}  // namespace

void add_quality(const plan::Plan& plan, Prediction& prediction) {
  constexpr double never = std::numeric_limits<double>::quiet_NaN();
  double pumped_s = 0;  // never: a step before does not end
  double clean_s = never, clean_u_s = 0;
  for (std::size_t i = 0; i < prediction.steps.size() && i < plan.recipe.steps.size(); ++i) {
    const plan::Step& step = plan.recipe.steps[i];
    StepPrediction& s = prediction.steps[i];
    if (step.kind == StepKind::sputter) {
      if (!std::isnan(clean_s))
        s.since_clean = Estimate<Duration>{Duration::from_value(clean_s), Duration::from_value(clean_u_s)};
      if (!std::isnan(pumped_s)) add_film_quality(plan, step, Duration::from_value(pumped_s), s);
      clean_s = never;  // of several film steps the first is told
    }
    const double takes_s = s.duration ? s.duration->value.value() : never;
    pumped_s += takes_s;
    clean_s += takes_s;
    // Pumpdowns share their causes, so their uncertainties add.
    if (s.duration) clean_u_s += s.duration->standard_uncertainty.value();
    if (step.kind == StepKind::plasma_clean) {
      add_clean_quality(plan, step, s);
      clean_s = clean_u_s = 0;
    }
    if (step.kind == StepKind::vent) {
      pumped_s = 0;
      clean_s = never;
    }
  }
  prediction.reflectance.clear();
  if (!plan.optic || !prediction.film) return;
  for (const plan::Film::Reflectance& wanted : plan.optic->film.reflectance) {
    if (auto r = film_reflectance(*plan.optic, prediction.film->value, wanted.wavelength.value))
      prediction.reflectance.push_back(std::move(*r));
  }
}

}  // namespace vacuary::model
