// What the optic bears and what its film can be: heat through the glass, reflectance of a clean film.
#include "check/rule.hpp"
#include "check/words.hpp"

namespace vacuary::check {
namespace {

void reflectance_out_of_reach(const Facts& facts, Findings& out) {
  if (!facts.plan.optic) return;
  const plan::Film& film = facts.plan.optic->film;
  for (const plan::Film::Reflectance& wanted : film.reflectance) {
    const std::optional<model::FilmReflectance> r =
        model::film_reflectance(*facts.plan.optic, film.thickness.value, wanted.wavelength.value);
    // One source alone says nothing of how far others would differ: no claim.
    if (!r || !r->spread_known || wanted.at_least.value <= r->low) continue;
    const Unit& unit = wanted.at_least.unit;
    const bool sure = wanted.at_least.value > r->high;
    Diagnostic& d = out.add(
        sure ? Severity::error : Severity::warning, wanted.at_least.at,
        fmt::format("a clean film of {} {} {} reflect {} at {}", words(film.thickness), film.material.value,
                    sure ? "cannot" : "may not", words(wanted.at_least), words(wanted.wavelength)));
    d.found = fmt::format("{} to {}, by published constants", number(in<Ratio>(r->low, unit), 4),
                          words(r->high, unit, 4));
    d.bound = "at least " + words(wanted.at_least);
    d.assumed = r->assumed;
    d.remedy = fmt::format("ask for at most {}", at_most_words(r->low, unit));
    if (r->opaque_from && film.thickness.value < *r->opaque_from)
      d.remedy += fmt::format(", or for a film of at least {}, which is opaque there",
                              at_least_words(*r->opaque_from, film.thickness.unit));
    d.second = second_place(film.thickness.at, "so thick");
  }
}

void glass_heated_too_much(const Facts& facts, Findings& out) {
  if (!facts.plan.optic) return;
  const plan::Given<TemperatureDifference>& allowed = facts.plan.optic->allowed_difference;
  for (std::size_t i = 0; i < facts.steps().size() && i < facts.prediction.steps.size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const std::optional<model::Heating>& heating = facts.prediction.steps[i].heating;
    if (!heating) continue;
    const double kelvin = heating->difference().value();
    if (kelvin <= allowed.value.value()) continue;
    const bool sure = heating->known_to > 0 && kelvin / heating->known_to > allowed.value.value();
    const Region& at = step.power ? step.power->at : step.current ? step.current->at : step.kind_at;
    Diagnostic& d = out.add(sure ? Severity::error : Severity::warning, at,
                            fmt::format("'{}' {} the face of the glass too far above its back",
                                        step.name.value, sure ? "heats" : "may heat"));
    d.found = heating->known_to > 0 ? fmt::format("{} K, known to a factor of {}", number(kelvin, 2),
                                                  number(heating->known_to, 2))
                                    : fmt::format("at most {} K", number(kelvin, 2));
    d.bound = "at most " + words(allowed);
    d.assumed.push_back(heating->from);
    d.assumed.push_back(heating->pass.value() > 0
                            ? fmt::format("no heat lost by radiation; each pass of the beam adds {} K to the "
                                          "very surface for seconds",
                                          number(heating->pass.value(), 2))
                            : std::string("no heat lost by radiation"));
    // While the heat has not reached the back the difference goes as flux times the root of time.
    const double slower = kelvin / allowed.value.value();
    d.remedy =
        fmt::format("take {} times as long at as much less power", number(rounded_up(slower * slower), 2));
    d.second = second_place(allowed.at, "what the glass bears");
  }
}

}  // namespace

std::vector<RuleEntry> optic_rules() {
  return {
      {{"reflectance-out-of-reach", Severity::error, "a reflectance that not even a clean film has",
        "The reflectance at normal incidence of a clean film of the wanted thickness on glass, with the "
        "oxide, overcoats and roughness that the optic file states, from published optical constants. For "
        "aluminium they differ by up to a point; between the lowest and the highest it is a warning. Water "
        "in the film only lowers it. Judged where more than one source is known: aluminium from 400 to 1000 "
        "nm, silver, chromium and nickel from 354 to 984 nm."},
       reflectance_out_of_reach},
      {{"glass-heated-too-much", Severity::error, "the glass heats more than it bears",
        "Condensing metal brings about 20 eV per atom (10 to 40 are reported), a glow at most its whole "
        "power. The rule takes that heat as steady through the step, on a slab with an insulated back, "
        "without radiation, and holds front minus back against the glass's allowed difference. The film's "
        "heat is known to a factor of two, so less than twice the bound is a warning; the glow's is an upper "
        "bound and never more than a warning. The beam's own pass heats the very surface "
        "for some seconds besides; the finding says by how much."},
       glass_heated_too_much},
  };
}

}  // namespace vacuary::check
