// What the film and the clean will be worth: residual gas, and whether the glow strikes and cleans.
#include <algorithm>
#include <cmath>

#include "check/rule.hpp"
#include "check/words.hpp"
#include "physics/physics.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

// Outgassing tables differ by a factor of two.
constexpr double known_to_factor = 2;

// How long the walls will have been pumped when step `index` starts; none when a step never ends.
std::optional<Duration> pumped_before(const Facts& facts, std::size_t index) {
  double pumped_s = 0;
  for (std::size_t i = 0; i < index; ++i) {
    const std::optional<Estimate<Duration>>& duration = facts.prediction.steps[i].duration;
    if (!duration) return std::nullopt;
    pumped_s += duration->value.value();
    if (facts.steps()[i].kind == StepKind::vent) pumped_s = 0;
  }
  return Duration::from_value(pumped_s);
}

struct WaterInFilm {
  double ratio = 0;    // molecules of water per atom of metal, averaged over a turn
  Pressure partial{};  // of the water in the discharge
};

std::optional<WaterInFilm> water_in_film(const Facts& facts, std::size_t index) {
  const plan::Chamber& chamber = facts.plan.chamber;
  const plan::Step& step = facts.steps()[index];
  const plan::Cathode* cathode = step.cathode ? plan::cathode(chamber, step.cathode->value) : nullptr;
  const std::optional<Duration> pumped = pumped_before(facts, index);
  if (cathode == nullptr || !step.power || !pumped || !facts.plan.optic) return std::nullopt;
  const physics::TargetElement* metal = physics::find_target(cathode->material.value);
  const double throttle = step.throttle ? step.throttle->value.value() : 1;
  const double speed_m3_per_s = model::high_vacuum_speed(chamber, "H2O").value() * throttle;
  const double desorption = chamber.plasma_desorption ? chamber.plasma_desorption->value.value() : 1;
  if (metal == nullptr || speed_m3_per_s <= 0) return std::nullopt;
  const Temperature gas = chamber.gas_temperature.value;
  const double load_pa_m3_per_s = throughput(model::outgassing(chamber, *pumped), gas).pa_m3_per_s();
  WaterInFilm water;
  water.partial = Pressure::from_value(desorption * load_pa_m3_per_s / speed_m3_per_s);
  const plan::Calibration& calibration = cathode->calibration;
  const Pressure pressure = step.pressure ? step.pressure->value : calibration.pressure.value;
  const model::FilmPerEnergy kappa = model::film_per_energy(chamber, *cathode, calibration.voltage.value,
                                                            pressure, cathode->energy_used.value);
  const auto rate = DepositionRate::from_value(kappa.value.value.value() * step.power->value.value());
  if (rate.value() <= 0) return std::nullopt;
  water.ratio =
      physics::gas_per_metal(*physics::find_gas("H2O"), gas, water.partial,
                             {facts.plan.optic->film.density.value, metal->molar_mass_g_per_mol / 1000}, rate)
          .value();
  return water;
}

void water_in_film_too_high(const Facts& facts, Findings& out) {
  const plan::Maybe<Ratio>& most = facts.plan.recipe.water_per_metal_max;
  if (!most) return;
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    if (step.kind != StepKind::sputter) continue;
    const std::optional<WaterInFilm> water = water_in_film(facts, i);
    const double bound = most->value.value();
    if (!water || water->ratio <= bound) continue;
    // The prediction is good to a factor of two at best: twice the bound is an error, and what is
    // below it is no finding at all.
    const bool sure = water->ratio > known_to_factor * bound;
    Diagnostic& d = out.add(sure ? Severity::error : Severity::warning, step.kind_at,
                            fmt::format("'{}' {} more water per metal atom than the recipe allows",
                                        step.name.value, sure ? "takes up" : "may take up"));
    d.found = fmt::format("{} molecules of water per atom, averaged over a turn, known to a factor of two",
                          number(water->ratio, 2));
    d.bound = "at most " + number(bound, 3);
    d.assumed.push_back(fmt::format("all outgassing is water, {} in the discharge",
                                    words(water->partial, unit("Pa", Kind::pressure), 2)));
    const plan::Maybe<Ratio>& desorption = facts.plan.chamber.plasma_desorption;
    d.assumed.push_back(
        desorption ? fmt::format("the discharge sets free {} times the water there is without it",
                                 number(desorption->value.value(), 3))
                   : "the discharge sets no water free: the chamber file states no plasma_desorption");
    d.assumed.push_back("water is throttled together with the argon");
    d.remedy = fmt::format("pump longer before the film, throttle less, or lay it {} times as fast",
                           number(rounded_up(water->ratio / bound), 3));
    d.second = second_place(most->at, "allowed here");
  }
}

// Electrons per ion: a clean electrode under slow ions, and an oxidised one.
const Ratio gamma_clean = Ratio::of(0.01);
const Ratio gamma_oxidised = Ratio::of(0.1);
// Electrode to nearest wall; the chamber's size is the cube root of its volume.
constexpr double shortest_gap_m = 0.05;

double chamber_size_m(const plan::Chamber& chamber) { return std::cbrt(chamber.volume.value.value()); }

// The least voltage that strikes somewhere in a chamber that offers every distance between the two:
// the curve has one minimum, so the best distance is the one nearest to it.
std::optional<Voltage> least_voltage(const physics::PaschenGas& gas, Ratio gamma, Pressure pressure,
                                     double size_m) {
  const double best_m = physics::paschen_minimum(gas, gamma).x.value() / pressure.value();
  const double distance_m = std::clamp(best_m, shortest_gap_m, size_m);
  return physics::breakdown_voltage(gas, PressureLength::from_value(pressure.value() * distance_m), gamma);
}

void glow_cannot_strike(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    if (step.kind != StepKind::plasma_clean || !step.voltage || !step.pressure ||
        step.pressure->value.value() <= 0)
      continue;
    const std::string formula = main_gas(chamber, step, step.pressure->value);
    const physics::PaschenGas* gas = physics::find_paschen(formula);
    if (gas == nullptr) continue;  // no coefficients, no claim
    const double size_m = std::max(chamber_size_m(chamber), shortest_gap_m);
    const std::optional<Voltage> easy = least_voltage(*gas, gamma_oxidised, step.pressure->value, size_m);
    const std::optional<Voltage> hard = least_voltage(*gas, gamma_clean, step.pressure->value, size_m);
    if (hard && *hard <= step.voltage->value) continue;
    const bool sure = !easy || *easy > step.voltage->value;
    const Unit& volts = step.voltage->unit;
    Diagnostic& d =
        out.add(sure ? Severity::error : Severity::warning, step.voltage->at,
                fmt::format("the glow of '{}' {} strike", step.name.value, sure ? "cannot" : "may not"));
    d.found = fmt::format("{} at {} of {}", words(*step.voltage), words(*step.pressure), formula);
    const auto limit = [&](const std::optional<Voltage>& v) {
      return v ? words(*v, volts, 3) : std::string("none that would do");
    };
    d.bound = fmt::format("at least {} (oxidised electrode) to {} (clean)", limit(easy), limit(hard));
    d.assumed.push_back(
        fmt::format("Paschen's law for cold plates {} to {} m apart; smaller gases in the mixture left out",
                    number(shortest_gap_m, 2), number(size_m, 2)));
    const auto window =
        physics::strike_window(*gas, Length::from_value(size_m), step.voltage->value, gamma_clean);
    d.remedy =
        window && window->low > step.pressure->value
            ? fmt::format("raise the pressure to at least {}",
                          at_least_words(window->low, step.pressure->unit))
            : fmt::format(
                  "raise the voltage to at least {}",
                  at_least_words(hard.value_or(physics::paschen_minimum(*gas, gamma_clean).voltage), volts));
    d.second = second_place(step.pressure->at, "at this pressure");
  }
}

// One molecule on each of 1e19 places per square metre, one elementary charge for each.
constexpr double monolayer_c_per_m2 = 1e19 * constants::elementary_charge_c;

void clean_too_short(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  double area_m2 = 0;
  for (const plan::Surface& surface : chamber.surfaces) area_m2 += surface.area.value.value();
  if (area_m2 <= 0) return;
  for (const plan::Step& step : facts.steps()) {
    const std::optional<Duration> time = planned_duration(step);
    if (step.kind != StepKind::plasma_clean || !step.current || !time) continue;
    const double dose = step.current->value.value() * time->value() / area_m2;
    if (dose >= monolayer_c_per_m2 * (1 - 1e-9)) continue;
    Diagnostic& d =
        out.add(step.end.at,
                fmt::format("'{}' is too short to clean even one layer of molecules off", step.name.value));
    d.found = fmt::format("at most {} C/m2", number(dose, 2));
    d.bound = fmt::format("at least {} C/m2, one charge for each of 1e19 molecules per m2",
                          number(monolayer_c_per_m2, 2));
    d.assumed.push_back(
        fmt::format("all of the current spread evenly over {} m2 of surfaces", number(area_m2, 3)));
    const Duration needed = Duration::from_value(monolayer_c_per_m2 * area_m2 / step.current->value.value());
    d.remedy = fmt::format(
        "clean for at least {}, or with more current",
        at_least_words(needed, step.end.time ? step.end.time->unit : unit("min", Kind::duration)));
  }
}

}  // namespace

std::vector<RuleEntry> quality_rules() {
  return {
      {{"water-in-film-too-high", Severity::error, "more water per metal atom than the recipe allows",
        "The residual gas of a film is not that of the base pressure: throttling for argon throttles the "
        "water too, and the discharge sets more free (plasma_desorption of the chamber file). The rule "
        "takes the outgassing at the time of the film as water, its arrival rate from kinetic theory, and "
        "the metal's from the film per energy, averaged over a turn. Outgassing is known to a factor of "
        "two, so up to twice the bound is a warning. The bound is the plant's policy: no published rule "
        "ties the ratio to a loss of reflectance."},
       water_in_film_too_high},
      {{"glow-cannot-strike", Severity::error, "a glow that does not strike at this pressure and voltage",
        "Paschen's law gives the least voltage at which a gas breaks down, by pressure times distance. "
        "The distance from electrode to wall may be anything from 5 cm to the size of the chamber. The "
        "yield of electrons is taken as 0.1 for an oxidised electrode and 0.01 for a clean one; between "
        "the two it is a warning. This is for the glow alone: a magnetron strikes far below Paschen's "
        "law. A gas without published coefficients is not judged."},
       glow_cannot_strike},
      {{"clean-too-short", Severity::warning, "a plasma clean too small to clean one layer off",
        "Current times time over all surfaces is an upper bound on the ions that each place gets. Below "
        "one charge for each molecule of a single layer (1e19 per m2, 1.6 C/m2) the clean cannot have "
        "cleaned. No etched depth is claimed from it: glass floats in a glow and nobody knows the energy "
        "of its ions. The electrode sputters too: cover what must not be coated by it."},
       clean_too_short},
  };
}

}  // namespace vacuary::check
