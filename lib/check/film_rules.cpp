// The film: how thick, how sure, how even, and whether the numbers it rests on are this cathode's.
#include <algorithm>
#include <map>

#include "check/rule.hpp"
#include "check/words.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

const plan::Cathode* cathode_of(const Facts& facts, const plan::Step& step) {
  return step.cathode ? plan::cathode(facts.plan.chamber, step.cathode->value) : nullptr;
}

template <class Look>
void for_each_film_step(const Facts& facts, const Look& look) {
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const plan::Cathode* cathode = cathode_of(facts, step);
    if (step.kind == StepKind::sputter && cathode != nullptr) look(step, facts.prediction.steps[i], *cathode);
  }
}

void power_density_too_high(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const plan::Cathode* cathode = cathode_of(facts, step);
    if (cathode == nullptr || !step.power) continue;
    const Area face = cathode->target_length.value * cathode->target_width.value;
    const PowerDensity density = step.power->value / face;
    const plan::Given<PowerDensity>& most = cathode->power_density_max;
    if (density.value() <= most.value.value() * (1 + 1e-9)) continue;
    Diagnostic& d =
        out.add(step.power->at, fmt::format("'{}' loads the target of '{}' with more power than it stands",
                                            step.name.value, cathode->name.value));
    d.found = words(density, most.unit, 3);
    d.bound = "at most " + words(most);
    d.remedy = fmt::format("lower the power to at most {}",
                           at_most_words(Power(most.value * face), step.power->unit));
    d.second = second_place(most.at, "what the target stands");
  }
}

void film_material_differs(const Facts& facts, Findings& out) {
  if (!facts.plan.optic) return;
  const plan::GivenText& wanted = facts.plan.optic->film.material;
  for_each_film_step(
      facts, [&](const plan::Step& step, const model::StepPrediction&, const plan::Cathode& cathode) {
        if (cathode.material.value == wanted.value) return;
        Diagnostic& d =
            out.add(step.cathode->at, fmt::format("'{}' sputters {}, but the optic wants {}", step.name.value,
                                                  cathode.material.value, wanted.value));
        d.found = cathode.material.value;
        d.bound = wanted.value;
        d.remedy = fmt::format("use a cathode with a target of {}", wanted.value);
        d.second = second_place(wanted.at, "wanted here");
      });
}

// The film step that a remedy changes: the last one with a film.
struct FilmStep {
  const plan::Step* step = nullptr;
  const model::StepPrediction* prediction = nullptr;
  const plan::Cathode* cathode = nullptr;
};

FilmStep last_film_step(const Facts& facts) {
  FilmStep last;
  for_each_film_step(facts, [&](const plan::Step& step, const model::StepPrediction& predicted,
                                const plan::Cathode& cathode) {
    if (predicted.film && predicted.film->value.value() > 0) last = FilmStep{&step, &predicted, &cathode};
  });
  return last;
}

// What to set so that the film comes out right: whole turns if they do it, else power, else the end.
std::string film_remedy(const Facts& facts, const FilmStep& last, double wanted_m, double tolerance_m) {
  const double others_m = facts.prediction.film->value.value() - last.prediction->film->value.value();
  const double ratio = (wanted_m - others_m) / last.prediction->film->value.value();
  if (!(ratio > 0)) return "leave out a film step";
  const plan::Step& step = *last.step;
  const double u_m = expanded(*facts.prediction.film).value();
  if (step.end.turns) {
    const double turns = std::round(step.end.turns->value.value() * ratio);
    const double film_m =
        others_m + last.prediction->film->value.value() * turns / step.end.turns->value.value();
    if (turns >= 1 && std::abs(film_m - wanted_m) + u_m <= tolerance_m) {
      return fmt::format("end on {}", turns_words(turns));
    }
  }
  if (step.end.energy)
    return fmt::format("end on {}", words(Energy(step.end.energy->value * ratio), step.end.energy->unit, 3));
  if (step.power) {
    const plan::Supply* supply = plan::supply(facts.plan.chamber, last.cathode->supply.value);
    const Power power = step.power->value * ratio;
    const Area face = last.cathode->target_length.value * last.cathode->target_width.value;
    const bool possible = power / face <= last.cathode->power_density_max.value &&
                          (supply == nullptr || power <= supply->power_max.value);
    if (possible) return fmt::format("set the power to {}", words(power, step.power->unit, 3));
  }
  if (step.end.time)
    return fmt::format("let '{}' last {}", step.name.value,
                       words(Duration(step.end.time->value * ratio), step.end.time->unit, 3));
  return fmt::format("lay {} times as much film", number(ratio, 3));
}

void film_out_of_tolerance(const Facts& facts, Findings& out) {
  const FilmStep last = last_film_step(facts);
  if (!facts.plan.optic || !facts.prediction.film || last.step == nullptr) return;
  const plan::Film& wanted = facts.plan.optic->film;
  const double value_m = facts.prediction.film->value.value();
  const double u_m = expanded(*facts.prediction.film).value();
  const double off_m = std::abs(value_m - wanted.thickness.value.value());
  const double tolerance_m = wanted.tolerance.value.value();
  if (u_m > tolerance_m && off_m <= tolerance_m) return;  // tolerance-cannot-be-proven says it
  const Standing standing = against_at_most(off_m, u_m, tolerance_m);
  if (standing == Standing::within) return;
  const Unit& unit = wanted.thickness.unit;
  const char* where = value_m > wanted.thickness.value.value() ? "thick" : "thin";
  Diagnostic& d =
      standing == Standing::beyond
          ? out.add(last.step->end.at, fmt::format("the film will be too {}", where))
          : out.add(Severity::warning, last.step->end.at, fmt::format("the film may be too {}", where));
  d.found = words(*facts.prediction.film, unit);
  d.bound = fmt::format("{} +/- {}", words(wanted.thickness), words(wanted.tolerance));
  d.assumed = last.prediction->assumed;
  d.remedy = film_remedy(facts, last, wanted.thickness.value.value(), tolerance_m);
  d.second = second_place(wanted.thickness.at, "wanted here");
}

void tolerance_cannot_be_proven(const Facts& facts, Findings& out) {
  if (!facts.plan.optic || !facts.prediction.film) return;
  const plan::Film& wanted = facts.plan.optic->film;
  const Length u = expanded(*facts.prediction.film);
  if (u.value() <= wanted.tolerance.value.value() * (1 + 1e-9)) return;
  const Unit& unit = wanted.tolerance.unit;
  Diagnostic& d = out.add(wanted.tolerance.at, "the tolerance is tighter than this run can prove");
  d.found = words(*facts.prediction.film, unit) + " (k = 2)";
  d.bound = "U at most " + words(wanted.tolerance);
  const std::vector<model::BudgetLine>& budget = facts.prediction.film_budget;
  const auto largest = std::max_element(
      budget.begin(), budget.end(),
      [](const model::BudgetLine& a, const model::BudgetLine& b) { return a.share < b.share; });
  d.remedy = fmt::format("widen the tolerance to at least {}", at_least_words(u, unit));
  if (largest != budget.end()) {
    d.remedy += fmt::format(", or know this better, {} % of the variance: {}",
                            number(100 * largest->share.value(), 2), largest->input);
  }
}

// A part turn shows when it is more than the turns are known to, and more than this: a hundredth
// of a turn is less than the beam of any cathode is wide.
constexpr double smallest_part_turn = 0.01;
// A part turn shorter than a wide beam has no plateau: its depth is less than a whole layer.
constexpr double widest_beam = 0.1;

std::string whole_turn_remedy(const plan::Step& step, double turns) {
  const double whole = std::max(std::round(turns), 1.0);
  const std::string end = fmt::format("end on {}", turns_words(whole));
  if (step.end.turns) return end;
  if (step.end.time) {
    return fmt::format("{}, or last {}", end,
                       words(Duration(step.end.time->value * (whole / turns)), step.end.time->unit));
  }
  if (step.end.angle)
    return fmt::format("{}, or on {}", end,
                       words(Angle(step.end.angle->value * (whole / turns)), step.end.angle->unit));
  return end + " and set the thickness by the power";
}

void seam(const Facts& facts, Findings& out) {
  for_each_film_step(facts, [&](const plan::Step& step, const model::StepPrediction& predicted,
                                const plan::Cathode&) {
    if (!predicted.turns || !predicted.film || !step.rotation) return;
    const double turns = predicted.turns->value.value();
    const double part = std::abs(turns - std::round(turns));
    if (!(turns > 0) ||
        part <= std::max(smallest_part_turn, coverage * predicted.turns->standard_uncertainty.value()))
      return;
    const double extra = turns - std::floor(turns);
    const Length per_turn = predicted.film->value / turns;
    const Unit& unit = facts.plan.optic ? facts.plan.optic->film.thickness.unit : usual_unit(Kind::length);
    // Where n turns meet n + 1, the two sides differ by one turn's film.
    const double uneven = per_turn / (predicted.film->value * 2.0);
    const plan::Maybe<Ratio>* bound = facts.plan.optic ? &facts.plan.optic->film.uniformity : nullptr;
    const bool over = bound != nullptr && *bound && uneven > (*bound)->value.value() && part > widest_beam;
    Diagnostic& d =
        out.add(over ? Severity::error : Severity::warning, step.end.at,
                fmt::format("'{}' leaves a seam: it does not end on whole turns", step.name.value));
    d.found = fmt::format("{}: {} of the circle has one more layer of {}, {} % uneven", turns_words(turns),
                          number(extra, 2), words(per_turn, unit, 3), number(100 * uneven, 2));
    d.bound = "whole turns";
    if (bound != nullptr && *bound) d.bound += fmt::format("; uniformity {}", words(**bound));
    d.assumed.push_back("the edge of the layer as sharp as it can be; the width of the beam softens it");
    d.remedy = whole_turn_remedy(step, turns);
  });
}

void film_uneven(const Facts& facts, Findings& out) {
  if (!facts.plan.optic || !facts.plan.optic->film.uniformity) return;
  const plan::Given<Ratio>& wanted = *facts.plan.optic->film.uniformity;
  const std::optional<model::FilmMap> map = facts.prediction.film_map
                                                ? facts.prediction.film_map
                                                : model::predict_film_map(facts.plan, facts.prediction);
  if (!map || map->peak_to_valley.high.value() <= wanted.value.value()) return;
  const model::Spread<Ratio>& uneven = map->peak_to_valley;
  const bool over = uneven.value.value() > wanted.value.value();
  const auto percent = [](Ratio ratio) { return number(100 * ratio.value(), 2); };
  Diagnostic& d = out.add(over ? Severity::error : Severity::warning, wanted.at,
                          over ? "the film will be more uneven over the clear area than is wanted"
                               : "whether the film will be even enough cannot be proven");
  const auto place = [&](const model::FilmExtreme& e) {
    return fmt::format("{} at radius {}", words(e.thickness.value, facts.plan.optic->film.thickness.unit, 3),
                       words(e.radius, facts.plan.optic->outer_radius.unit, 2));
  };
  d.found = fmt::format("{} % (95 %: {} to {} %), from {} to {}", percent(uneven.value), percent(uneven.low),
                        percent(uneven.high), place(map->thinnest), place(map->thickest));
  d.bound = "at most " + words(wanted) + ", as (max - min)/(max + min)";
  d.assumed.push_back(
      "throw, racetrack, emission and shield as the chamber file states them, with their uncertainties");
  d.remedy =
      "see what trim shield this cathode needs: vacuary shield; or end on whole turns, without a ramp in the "
      "film";
}

void ramp_in_film(const Facts& facts, Findings& out) {
  for_each_film_step(facts, [&](const plan::Step& step, const model::StepPrediction& predicted,
                                const plan::Cathode&) {
    if (!step.ramp || step.ramp->value.value() <= 0 || !step.rotation || !predicted.turns || !predicted.film)
      return;
    const double swept = step.rotation->value.value() * step.ramp->value.value();
    const double turns = predicted.turns->value.value();
    if (!(turns > 0) || swept <= 0) return;
    const Unit& unit = facts.plan.optic ? facts.plan.optic->film.thickness.unit : usual_unit(Kind::length);
    Diagnostic& d = out.add(
        step.ramp->at, fmt::format("'{}' brings up the power while the film is going down", step.name.value));
    d.found = fmt::format("{} degrees of the first turn get too little, up to {} less",
                          number(swept * 57.29577951308232, 3),
                          words(Length(predicted.film->value / turns), unit, 3));
    d.bound = "full power from the start of the film";
    d.assumed.push_back("the shutter opens as the step starts");
    d.remedy = "bring up the power in a presputter step, and open the shutter at full power";
  });
}

void calibrated_differently(Findings& out, const char* what, const plan::GivenText& calibrated,
                            const plan::GivenText& now) {
  if (calibrated.value == now.value) return;
  const auto named = [](const plan::GivenText& text) {
    return text.value.empty() ? std::string("none") : "'" + text.value + "'";
  };
  Diagnostic& d =
      out.add(calibrated.at.source ? calibrated.at : now.at,
              fmt::format("the film per energy was measured with another {} than the cathode has", what));
  d.found = "measured with " + named(calibrated);
  d.bound = named(now);
  d.remedy = fmt::format("measure the film per energy with {} and write it into the calibration", named(now));
  d.second = second_place(now.at, "what the cathode has");
}

// The chamber's calibration is complained of once, however many steps use the cathode.
void calibration_of_another(const Facts& facts, Findings& out) {
  std::vector<const plan::Cathode*> seen;
  for_each_film_step(
      facts, [&](const plan::Step& step, const model::StepPrediction&, const plan::Cathode& cathode) {
        const plan::Calibration& calibration = cathode.calibration;
        for (const plan::GasFlow& gas : step.gas) {
          const plan::GasLine* line = plan::gas_line(facts.plan.chamber, gas.line.value);
          if (line == nullptr || line->gas.value == calibration.gas.value || gas.flow.value.value() <= 0)
            continue;
          Diagnostic& d = out.add(
              gas.line.at, fmt::format("'{}' sputters in {}, but the film per energy was measured in {}",
                                       step.name.value, line->gas.value, calibration.gas.value));
          d.found = line->gas.value;
          d.bound = calibration.gas.value;
          d.remedy = fmt::format("measure the film per energy in {}, or sputter in {} alone", line->gas.value,
                                 calibration.gas.value);
          d.second = second_place(calibration.gas.at, "measured in this gas");
        }
        if (std::find(seen.begin(), seen.end(), &cathode) != seen.end()) return;
        seen.push_back(&cathode);
        calibrated_differently(out, "shield", calibration.shield, cathode.shield);
        calibrated_differently(out, "target", calibration.target_serial, cathode.target_serial);
      });
}

void calibration_far_off(const Facts& facts, Findings& out) {
  for_each_film_step(facts, [&](const plan::Step& step, const model::StepPrediction&,
                                const plan::Cathode& cathode) {
    if (!step.pressure) return;
    const plan::Calibration& calibration = cathode.calibration;
    const auto per_energy = [&](Pressure pressure) {
      return model::film_per_energy(facts.plan.chamber, cathode, calibration.voltage.value, pressure,
                                    calibration.energy_used.value)
          .value.value.value();
    };
    const double there = per_energy(calibration.pressure.value);
    const double change = per_energy(step.pressure->value) / there - 1;
    const double known = coverage * calibration.uncertainty.value.value();
    if (!(std::abs(change) > known)) return;
    Diagnostic& d = out.add(
        step.pressure->at,
        fmt::format("'{}' works far from the pressure the film per energy was measured at", step.name.value));
    d.found = fmt::format("{}, {}{} % film per energy", words(*step.pressure), change > 0 ? "+" : "-",
                          number(100 * std::abs(change), 2));
    d.bound = fmt::format("a change of at most {} %, the calibration's own uncertainty (k = 2)",
                          number(100 * known, 2));
    d.assumed.push_back(fmt::format("transport through the gas with p0d0 = {}", words(cathode.p0d0)));
    d.remedy = fmt::format("work near {}, or measure the film per energy at {}",
                           words(calibration.pressure.value, step.pressure->unit), words(*step.pressure));
    d.second = second_place(calibration.pressure.at, "measured at this pressure");
  });
}

void target_used_up(const Facts& facts, Findings& out) {
  for (const plan::Cathode& cathode : facts.plan.chamber.cathodes) {
    double run_j = 0, u_j = 0;
    for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
      const plan::Step& step = facts.steps()[i];
      const std::optional<Estimate<Energy>>& energy = facts.prediction.steps[i].energy;
      if (!step.cathode || step.cathode->value != cathode.name.value || !energy) continue;
      run_j += energy->value.value();
      u_j += energy->standard_uncertainty.value();  // one meter reads them all
    }
    const double used_j = cathode.energy_used.value.value();
    const double rated_j = cathode.energy_rated.value.value();
    if (run_j <= 0) continue;
    const Standing standing = against_at_most(used_j + run_j, coverage * u_j, rated_j);
    if (standing == Standing::within) continue;
    const Unit& unit = cathode.energy_used.unit;
    Diagnostic& d =
        out.add(standing == Standing::beyond ? Severity::error : Severity::warning, cathode.energy_used.at,
                fmt::format("the target of '{}' {} before this run is over", cathode.name.value,
                            standing == Standing::beyond ? "is used up" : "may be used up"));
    d.found = fmt::format("{} used and {} to come", words(cathode.energy_used),
                          words(Energy::from_value(run_j), unit, 3));
    d.bound = "at most " + words(cathode.energy_rated.value, unit);
    d.remedy = used_j < rated_j ? fmt::format("fit a new target; this one has {} left",
                                              at_most_words(Energy::from_value(rated_j - used_j), unit))
                                : "fit a new target";
    d.second = second_place(cathode.energy_rated.at, "what the target is rated for");
  }
}

}  // namespace

std::vector<RuleEntry> film_rules() {
  return {
      {{"power-density-too-high", Severity::error, "more power on the target than it stands",
        "The step's power over the whole target face is above what the cathode allows. The target cracks "
        "or comes off its backing, arcs, and spits on the optic. Mend: less power for more turns."},
       power_density_too_high},
      {{"film-material-differs", Severity::error, "the cathode sputters another metal than the optic wants",
        "The target material of the cathode in the step is not the film material in the optic file."},
       film_material_differs},
      {{"film-out-of-tolerance", Severity::error, "the film will not have the thickness wanted",
        "The film is the energy of each sputter step (power, time, ramp) times the film per energy from "
        "the cathode's calibration, carried to the step's pressure and the target's age. It must lie "
        "inside the tolerance with its whole interval (k = 2); when only a part of the interval lies "
        "outside it is a warning. The discharge voltage is not known before the run and taken as "
        "calibrated. The remedy names the turns, energy or power that would give the film."},
       film_out_of_tolerance},
      {{"tolerance-cannot-be-proven", Severity::warning,
        "a tolerance tighter than the prediction's uncertainty",
        "The expanded uncertainty (k = 2) of the film is larger than the tolerance. Whatever the run "
        "does, its account cannot say 'within limits'. Either the tolerance asks for more than the plant "
        "can know, or the largest part of the uncertainty, which the remedy names, has to be measured "
        "better."},
       tolerance_cannot_be_proven},
      {{"seam", Severity::warning, "a film that does not end on whole turns",
        "Each turn of the optic lays one layer. When the film ends in the middle of a turn a part of the "
        "circle has one layer more than the rest, with an edge between them. It is an error when that "
        "alone breaks the uniformity wanted. A part turn smaller than the turns' own uncertainty is let "
        "pass. End on turns."},
       seam},
      {{"film-uneven", Severity::error, "a film more uneven than is wanted",
        "The film is laid through the cathode's geometry (racetrack, throw, emission, trim shield) on the "
        "curved glass as the recipe turns it, and (max - min)/(max + min) over the clear area is held "
        "against the uniformity the optic wants. A radial cathode without a trim shield lays several times "
        "more near the axis than at the rim. The interval comes from the uncertainties of the geometry by "
        "Monte Carlo; when only a part of it lies beyond what is wanted it is a warning."},
       film_uneven},
      {{"ramp-in-film", Severity::warning, "the power comes up while the film is going down",
        "During a ramp at the start of a sputter step the optic turns under a weak beam, and the sector "
        "that passes then stays thin: one turn's film is missing in part and no later turn makes it up. "
        "Bring up the power behind the shutter."},
       ramp_in_film},
      {{"calibration-of-another", Severity::error,
        "a film per energy measured with another shield, target or gas",
        "The film per energy holds for the shield, target and gas it was measured with. A shield alone "
        "changes it by more than half. With another one no thickness can be claimed from the energy. The "
        "discharge voltage, the fourth condition, is only known in the run, and is checked then."},
       calibration_of_another},
      {{"calibration-far-off", Severity::warning, "a film at a pressure far from the calibrated one",
        "Gas scatters sputtered atoms away. The film per energy is carried to the step's pressure by the "
        "transport law of Keller and Simmons; when that changes it by more than the calibration's own "
        "uncertainty (k = 2), the film rests on p0d0, which is usually assumed."},
       calibration_far_off},
      {{"target-used-up", Severity::error, "a target that will not last the run",
        "The energy the target has had, plus that of all presputter and sputter steps of this recipe, is "
        "above its rated energy. A target worn through spoils the optic with backing-plate metal and may "
        "let in cooling water."},
       target_used_up},
  };
}

}  // namespace vacuary::check
