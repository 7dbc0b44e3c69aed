// Front door of `report`: findings and the account of a run to what people and programs read.
//
// Everything here is pure: the same input gives the same bytes. No output holds the time at which
// it was made. The JSON forms are described in schemas/report.schema.json and
// schemas/findings.schema.json.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "check/check.hpp"
#include "model/model.hpp"
#include "plan/measured.hpp"
#include "plan/plan.hpp"
#include "report/calibration.hpp"  // IWYU pragma: export
#include "report/shield.hpp"       // IWYU pragma: export
#include "run/run.hpp"

namespace vacuary::report {

// ---- before the run

// The findings in the one printer's form and a closing line ("2 errors, 1 warning"); with a
// prediction, what the chamber will do: steps with durations, working points, film.
[[nodiscard]] std::string findings_text(const Diagnostics& findings, PrintStyle style);
[[nodiscard]] std::string prediction_text(const plan::Plan& plan, const model::Prediction& prediction);

[[nodiscard]] std::string findings_json(const Diagnostics& findings, const plan::Plan* plan,
                                        const model::Prediction* prediction);

// SARIF 2.1.0 (OASIS). Columns are Unicode code points, and the log says so. `version` is ours.
[[nodiscard]] std::string findings_sarif(const Diagnostics& findings, const std::string& version);

// ---- after the run

[[nodiscard]] std::string account_text(const run::Account& account, PrintStyle style);
[[nodiscard]] std::string account_json(const run::Account& account);
[[nodiscard]] std::string account_html(const run::Account& account);

// ---- over many runs

// A figure that is followed from run to run. Names and units are the same in every release: archives keep
// them for decades (schemas/record.md, "Figures").
struct RunFigure {
  std::string name;
  double value = 0;
  std::optional<double> expanded_uncertainty;  // k = 2
  std::string unit;                            // as in the log, blanks as '*'
  std::string subject;  // what it is about besides the run: "target TR-AL-07"; may be empty
};
[[nodiscard]] std::vector<RunFigure> run_figures(const plan::Plan& plan, const run::Account& account);
// Of measurements made after the run. Several places of one kind give their mean, with the largest of their
// uncertainties (one instrument measured them all) and what the places scatter.
[[nodiscard]] std::vector<RunFigure> measured_figures(const plan::Measured& measured);

}  // namespace vacuary::report
