#include "check/check.hpp"

#include <algorithm>

#include "commands.hpp"
#include "report/report.hpp"

namespace vacuary::tool {
namespace {

// A file that cannot be read is a check that could not be done; everything else is a finding.
bool unreadable(const Diagnostics& findings) {
  return std::any_of(findings.begin(), findings.end(),
                     [](const Diagnostic& d) { return d.rule == "unreadable-file"; });
}

Status status_of(const Diagnostics& findings) {
  if (unreadable(findings)) return status_failed;
  const bool worth_a_look = std::any_of(findings.begin(), findings.end(),
                                        [](const Diagnostic& d) { return d.severity != Severity::note; });
  return worth_a_look ? status_findings : status_good;
}

std::string rendered(Format format, const Diagnostics& findings, const plan::Plan* plan,
                     const model::Prediction* prediction) {
  switch (format) {
    case Format::json:
      return report::findings_json(findings, plan, prediction);
    case Format::sarif:
      return report::findings_sarif(findings, VACUARY_VERSION);
    case Format::text:
      break;
  }
  std::string out;
  if (prediction != nullptr) out += report::prediction_text(*plan, *prediction) + "\n";
  return out + report::findings_text(findings, {colour_on_stdout()});
}

}  // namespace

Status run_check(const CheckArguments& arguments) {
  const Result<plan::Plan> plan = plan::load(arguments.recipe);
  if (!plan.ok()) {
    if (unreadable(plan.diagnostics()) && arguments.format == Format::text) {
      complain(plan.diagnostics());
      return status_failed;
    }
    const std::string out = rendered(arguments.format, plan.diagnostics(), nullptr, nullptr);
    return deliver(out) ? status_of(plan.diagnostics()) : status_failed;
  }
  model::Prediction prediction = model::predict(plan.value());
  prediction.film_map = model::predict_film_map(plan.value(), prediction);
  Diagnostics findings = plan.diagnostics();
  const Diagnostics checked = check::check(plan.value(), prediction);
  findings.insert(findings.end(), checked.begin(), checked.end());
  sort_by_place(findings);
  const std::string out = rendered(arguments.format, findings, &plan.value(), &prediction);
  return deliver(out) ? status_of(findings) : status_failed;
}

}  // namespace vacuary::tool
