// What the film and the clean will be worth: residual gas, and whether the glow strikes and cleans.
#include "check/rule.hpp"
#include "check/words.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

void water_in_film_too_high(const Facts& facts, Findings& out) {
  const plan::Maybe<Ratio>& most = facts.plan.recipe.water_per_metal_max;
  if (!most) return;
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const std::optional<model::ResidualGas>& gas = facts.prediction.steps[i].residual;
    const double bound = most->value.value();
    const double ratio = gas ? gas->per_turn.value.value() : 0;
    if (!gas || ratio <= bound) continue;
    // The prediction is known to a factor only: that factor beyond the bound is an error, and what is
    // below the bound is no finding at all.
    const bool sure = ratio > gas->known_to() * bound;
    Diagnostic& d = out.add(sure ? Severity::error : Severity::warning, step.kind_at,
                            fmt::format("'{}' {} more water per metal atom than the recipe allows",
                                        step.name.value, sure ? "takes up" : "may take up"));
    d.found = fmt::format(
        "{} molecules of water per atom, averaged over a turn, {} in the beam; known to a factor of {}",
        number(ratio, 2), number(gas->in_beam.value.value(), 2), number(gas->known_to(), 2));
    d.bound = "at most " + number(bound, 3) + " over a turn";
    d.assumed = gas->assumed;
    d.remedy = fmt::format("pump longer before the film, throttle less, or lay it {} times as fast",
                           number(rounded_up(ratio / bound), 3));
    d.second = second_place(most->at, "allowed here");
  }
}

void glow_cannot_strike(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    if (step.kind != StepKind::plasma_clean || !step.voltage || !step.pressure) continue;
    const std::string formula = main_gas(chamber, step, step.pressure->value);
    const std::optional<model::Strike> strike =
        model::strike(chamber, formula, step.pressure->value, step.voltage->value);
    if (!strike) continue;  // no coefficients, no claim
    if (strike->clean && *strike->clean <= step.voltage->value) continue;
    const bool sure = !strike->oxidised || *strike->oxidised > step.voltage->value;
    const Unit& volts = step.voltage->unit;
    Diagnostic& d =
        out.add(sure ? Severity::error : Severity::warning, step.voltage->at,
                fmt::format("the glow of '{}' {} strike", step.name.value, sure ? "cannot" : "may not"));
    d.found = fmt::format("{} at {} of {}", words(*step.voltage), words(*step.pressure), formula);
    const auto limit = [&](const std::optional<Voltage>& v) {
      return v ? words(*v, volts, 3) : std::string("none that would do");
    };
    d.bound = fmt::format("at least {} (oxidised electrode) to {} (clean)", limit(strike->oxidised),
                          limit(strike->clean));
    d.assumed.push_back(
        fmt::format("Paschen's law for cold plates {} to {} m apart; smaller gases in the mixture left out",
                    number(strike->shortest.value(), 2), number(strike->longest.value(), 2)));
    d.remedy = strike->lowest && *strike->lowest > step.pressure->value
                   ? fmt::format("raise the pressure to at least {}",
                                 at_least_words(*strike->lowest, step.pressure->unit))
                   : fmt::format("raise the voltage to at least {}",
                                 at_least_words(strike->clean.value_or(*strike->least), volts));
    d.second = second_place(step.pressure->at, "at this pressure");
  }
}

void clean_too_short(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  const double layer = model::one_layer().value();
  for (const plan::Step& step : facts.steps()) {
    const std::optional<Duration> time = planned_duration(step);
    if (step.kind != StepKind::plasma_clean || !step.current || !time) continue;
    const std::optional<ChargeDensity> dose = model::clean_dose(chamber, step.current->value * *time);
    if (!dose || dose->value() >= layer * (1 - 1e-9)) continue;
    Diagnostic& d =
        out.add(step.end.at,
                fmt::format("'{}' is too short to clean even one layer of molecules off", step.name.value));
    d.found = fmt::format("at most {} C/m2", number(dose->value(), 2));
    d.bound = fmt::format("at least {} C/m2, one charge for each of 1e19 molecules per m2", number(layer, 2));
    const double area_m2 = step.current->value.value() * time->value() / dose->value();
    d.assumed.push_back(
        fmt::format("all of the current spread evenly over {} m2 of surfaces", number(area_m2, 3)));
    const Duration needed = *time * (layer / dose->value());
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
        "the metal's from the film per energy, averaged over a turn. Outgassing (50 %), "
        "desorption (30 %) and speeds (10 %) leave it known to a factor of about three, so up to that factor "
        "beyond the bound is a warning. The bound is the plant's policy: no published rule "
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
