#include <fmt/format.h>

#include <algorithm>

#include "report/report.hpp"
#include "report/words.hpp"

namespace vacuary::report {
namespace {

std::string counted(std::size_t n, const char* what) {
  return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
}

std::size_t count_of(const Diagnostics& findings, Severity severity) {
  return static_cast<std::size_t>(std::count_if(findings.begin(), findings.end(),
                                                [&](const Diagnostic& d) { return d.severity == severity; }));
}

template <class Q>
std::string value_words(const std::optional<Estimate<Q>>& estimate, const Unit& unit) {
  if (!estimate) return "";
  return with_uncertainty(estimate->value, expanded(*estimate), unit);
}

// The working pressure where gas flows, else the pressure the step ends at.
std::string pressure_words(const model::StepPrediction& step) {
  if (step.working_pressure) return value_words(step.working_pressure, unit("Pa", Kind::pressure));
  const Unit& mbar = unit("mbar", Kind::pressure);
  return step.end_pressure ? fmt::format("to {:.3g} mbar", in(step.end_pressure->value, mbar)) : "";
}

// What the film will be worth beside its thickness, and what the glass goes through.
std::vector<std::string> quality_of(const model::Prediction& prediction) {
  std::vector<std::string> out;
  for (const model::StepPrediction& s : prediction.steps) {
    if (s.clean_dose) {
      out.push_back(fmt::format("clean '{}': at most {:.2g} C/m2, {:.2g} charges per molecule of one layer",
                                s.step, s.clean_dose->value(), *s.clean_dose / model::one_layer()));
    }
    if (s.since_clean) out.push_back(fmt::format("from clean to '{}': {}", s.step, words(*s.since_clean)));
    if (s.residual) {
      out.push_back(
          fmt::format("water against metal in '{}': {:.2g} molecules per atom over a turn, {:.2g} in the "
                      "beam, known to a factor of {:.2g}",
                      s.step, s.residual->per_turn.value.value(), s.residual->in_beam.value.value(),
                      s.residual->known_to()));
    }
    if (s.heating) out.push_back(fmt::format("glass in '{}': {}", s.step, heating_words(*s.heating)));
  }
  for (const model::FilmReflectance& r : prediction.reflectance)
    out.push_back("reflectance a clean film can have: " + reflectance_words(r));
  return out;
}

}  // namespace

std::string findings_text(const Diagnostics& findings, PrintStyle style) {
  if (findings.empty()) return "no findings\n";
  return to_text(findings, style) + fmt::format("{}, {}, {}\n",
                                                counted(count_of(findings, Severity::error), "error"),
                                                counted(count_of(findings, Severity::warning), "warning"),
                                                counted(count_of(findings, Severity::note), "note"));
}

std::string prediction_text(const plan::Plan& plan, const model::Prediction& prediction) {
  std::string out = fmt::format("What this chamber will do with '{}', revision {}\n", plan.recipe.name.value,
                                plan.recipe.revision.value);
  Table table({"step", "kind", "lasts", "pressure", "energy", "film"},
              {false, false, true, true, true, true});
  for (std::size_t i = 0; i < prediction.steps.size(); ++i) {
    const model::StepPrediction& step = prediction.steps[i];
    table.add({step.step, words(plan::name(plan.recipe.steps.at(i).kind)),
               step.duration ? words(*step.duration) : "never ends", pressure_words(step),
               value_words(step.energy, unit("kWh", Kind::energy)),
               value_words(step.film, unit("nm", Kind::length))});
  }
  out += table.text("  ");
  if (prediction.total) out += fmt::format("  whole run: {}\n", words(*prediction.total));
  if (prediction.film) {
    out += fmt::format(
        "  film: {} (k = 2)\n",
        with_uncertainty(prediction.film->value, expanded(*prediction.film), unit("nm", Kind::length)));
  }
  for (const std::string& line : quality_of(prediction)) out += fmt::format("  {}\n", wrapped(line, 4));
  std::vector<std::string> assumed;
  for (const model::StepPrediction& step : prediction.steps) {
    for (const std::string& clause : step.assumed) {
      if (std::find(assumed.begin(), assumed.end(), clause) == assumed.end()) assumed.push_back(clause);
    }
  }
  if (!assumed.empty()) out += "  assumed:\n";
  for (const std::string& clause : assumed) out += fmt::format("  - {}\n", wrapped(clause, 4));
  return out;
}

}  // namespace vacuary::report
