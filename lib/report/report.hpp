// Front door of `report`: findings and the account of a run to what people and programs read.
//
// Everything here is pure: the same input gives the same bytes. No output holds the time at which
// it was made. The JSON forms are described in schemas/report.schema.json and
// schemas/findings.schema.json.
#pragma once

#include <string>

#include "check/check.hpp"
#include "model/model.hpp"
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

}  // namespace vacuary::report
