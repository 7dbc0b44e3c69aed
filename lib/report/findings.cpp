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
    if (prediction.film_map) {
      const model::FilmMap& map = *prediction.film_map;
      out += fmt::format(
          "  from {:.1f} nm at radius {:.2f} m to {:.1f} nm at {:.2f} m: uneven by {} (95 %: {} to {})\n",
          in(map.thinnest.thickness.value, unit("nm", Kind::length)), map.thinnest.radius.value(),
          in(map.thickest.thickness.value, unit("nm", Kind::length)), map.thickest.radius.value(),
          percent(map.peak_to_valley.value), percent(map.peak_to_valley.low),
          percent(map.peak_to_valley.high));
    }
  }
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
