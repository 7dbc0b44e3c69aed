// What the optic bears and what its film can be: heat through the glass, reflectance of a clean film.
#include <algorithm>
#include <vector>

#include "check/rule.hpp"
#include "check/words.hpp"
#include "physics/physics.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

// The substrate hardly matters under an opaque film; this is a borosilicate glass in visible light.
constexpr double glass_index = 1.47;
// Where aluminium's published tables end, and where they are too coarse for the dip near 830 nm.
constexpr double tables_from_m = 400e-9, tables_dense_to_m = 670e-9, tables_to_m = 1000e-9;
// How far the one model that resolves the dip and the tables lie apart there (R near 850 nm: 0.858 to 0.870).
constexpr double model_spread = 0.01;

struct Range {
  double low = 1, high = 0;
  void take(double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  }
};

// Reflectance of a clean, smooth aluminium film by all published constants; nothing outside 400 to 1000 nm.
std::optional<Range> clean_aluminium(Length thickness, Length wavelength) {
  const double at_m = wavelength.value();
  if (at_m < tables_from_m || at_m > tables_to_m) return std::nullopt;
  const auto film = [&](physics::Index index) {
    return physics::stack({{index, thickness}}, physics::Index{glass_index, 0}, wavelength)
        .reflectance.value();
  };
  Range range;
  const double model = film(physics::lorentz_drude_aluminium(wavelength));
  if (at_m > tables_dense_to_m && at_m < tables_to_m) {
    range.take(model - model_spread);
    range.take(model + model_spread);
    return range;
  }
  range.take(model);
  for (const physics::NamedIndex& table : physics::aluminium_tables(wavelength))
    range.take(film(table.index));
  return range;
}

void reflectance_out_of_reach(const Facts& facts, Findings& out) {
  if (!facts.plan.optic) return;
  const plan::Film& film = facts.plan.optic->film;
  if (film.material.value != "Al") return;  // no constants of other metals, no claim
  for (const plan::Film::Reflectance& wanted : film.reflectance) {
    const std::optional<Range> range = clean_aluminium(film.thickness.value, wanted.wavelength.value);
    if (!range || wanted.at_least.value.value() <= range->low) continue;
    const Unit& unit = wanted.at_least.unit;
    const bool sure = wanted.at_least.value.value() > range->high;
    Diagnostic& d = out.add(
        sure ? Severity::error : Severity::warning, wanted.at_least.at,
        fmt::format("a clean film of {} {} {} reflect {} at {}", words(film.thickness), film.material.value,
                    sure ? "cannot" : "may not", words(wanted.at_least), words(wanted.wavelength)));
    d.found =
        fmt::format("{} to {}, by published constants", number(in<Ratio>(Ratio::of(range->low), unit), 4),
                    words(Ratio::of(range->high), unit, 4));
    d.bound = "at least " + words(wanted.at_least);
    d.assumed.push_back(
        fmt::format("smooth and without oxide, on glass of index {}", number(glass_index, 3)));
    d.remedy = fmt::format("ask for at most {}", at_most_words(Ratio::of(range->low), unit));
    d.second = second_place(film.thickness.at, "so thick");
  }
}

physics::Glass glass_of(const plan::Optic& optic) {
  return {optic.glass_density.value, optic.conductivity.value, optic.heat_capacity.value,
          optic.face_thickness.value};
}

// Front over back of the glass after a heat spread evenly over a time.
double difference_k(const plan::Optic& optic, HeatDensity heat, Duration time) {
  const physics::SlabRise rise = physics::slab_rise(glass_of(optic), heat / time, time);
  return (rise.front - rise.back).value();
}

struct Heating {
  double kelvin = 0;
  double factor = 0;  // known to within this factor; 0: an upper bound
  std::string from;
  const Region* at = nullptr;
};

std::optional<Heating> heating_by_film(const plan::Optic& optic, const plan::Step& step,
                                       const plan::Cathode& cathode, const model::StepPrediction& predicted) {
  const physics::TargetElement* metal = physics::find_target(cathode.material.value);
  if (metal == nullptr || !predicted.film || !predicted.duration || !step.power) return std::nullopt;
  const HeatDensity heat = physics::film_heat({optic.film.density.value, metal->molar_mass_g_per_mol / 1000},
                                              predicted.film->value);
  return Heating{difference_k(optic, heat, predicted.duration->value), 2,
                 fmt::format("the film at {} eV per atom, averaged over the step",
                             number(physics::film_energy_per_atom_ev, 3)),
                 &step.power->at};
}

std::optional<Heating> heating_by_glow(const plan::Chamber& chamber, const plan::Optic& optic,
                                       const plan::Step& step, const model::StepPrediction& predicted) {
  double area_m2 = 0;
  for (const plan::Surface& surface : chamber.surfaces) area_m2 += surface.area.value.value();
  if (area_m2 <= 0 || !step.voltage || !step.current || !predicted.duration) return std::nullopt;
  const HeatDensity heat = physics::glow_heat(step.voltage->value, step.current->value,
                                              predicted.duration->value, Area::from_value(area_m2));
  return Heating{
      difference_k(optic, heat, predicted.duration->value), 0,
      fmt::format("all power of the glow spread evenly over {} m2 of surfaces", number(area_m2, 3)),
      &step.current->at};
}

void glass_heated_too_much(const Facts& facts, Findings& out) {
  if (!facts.plan.optic) return;
  const plan::Optic& optic = *facts.plan.optic;
  const plan::Given<TemperatureDifference>& allowed = optic.allowed_difference;
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const plan::Cathode* cathode =
        step.cathode ? plan::cathode(facts.plan.chamber, step.cathode->value) : nullptr;
    std::optional<Heating> heating;
    if (step.kind == StepKind::sputter && cathode != nullptr)
      heating = heating_by_film(optic, step, *cathode, facts.prediction.steps[i]);
    if (step.kind == StepKind::plasma_clean)
      heating = heating_by_glow(facts.plan.chamber, optic, step, facts.prediction.steps[i]);
    if (!heating || heating->kelvin <= allowed.value.value()) continue;
    const bool sure = heating->factor > 0 && heating->kelvin / heating->factor > allowed.value.value();
    Diagnostic& d = out.add(sure ? Severity::error : Severity::warning, *heating->at,
                            fmt::format("'{}' {} the face of the glass too far above its back",
                                        step.name.value, sure ? "heats" : "may heat"));
    d.found = heating->factor > 0 ? fmt::format("{} K, known to a factor of {}", number(heating->kelvin, 2),
                                                number(heating->factor, 2))
                                  : fmt::format("at most {} K", number(heating->kelvin, 2));
    d.bound = "at most " + words(allowed);
    d.assumed.push_back(heating->from);
    d.assumed.push_back("no heat lost by radiation; each pass of the beam adds to it for seconds");
    // While the heat has not reached the back the difference goes as flux times the root of time.
    const double slower = heating->kelvin / allowed.value.value();
    d.remedy =
        fmt::format("take {} times as long at as much less power", number(rounded_up(slower * slower), 2));
    d.second = second_place(allowed.at, "what the glass bears");
  }
}

}  // namespace

std::vector<RuleEntry> optic_rules() {
  return {
      {{"reflectance-out-of-reach", Severity::error, "a reflectance that not even a clean film has",
        "The reflectance at normal incidence of a smooth, clean film of the wanted thickness on glass, "
        "from the published constants of aluminium. They differ by up to a point; between the lowest and "
        "the highest it is a warning. An oxide, roughness or water in the film only lower it. Judged for "
        "aluminium from 400 to 1000 nm."},
       reflectance_out_of_reach},
      {{"glass-heated-too-much", Severity::error, "the glass heats more than it bears",
        "Condensing metal brings about 20 eV per atom (10 to 40 are reported), a glow at most its whole "
        "power. The rule takes that heat as steady through the step, on a slab with an insulated back, "
        "without radiation, and holds front minus back against the glass's allowed difference. The film's "
        "heat is known to a factor of two, so less than twice the bound is a warning; the glow's is an upper "
        "bound and never more than a warning. The beam's own pass heats the very surface by about a kelvin "
        "more for some seconds."},
       glass_heated_too_much},
  };
}

}  // namespace vacuary::check
