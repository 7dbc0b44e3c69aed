#include "calibrate/calibrate.hpp"

#include "commands.hpp"
#include "report/report.hpp"

namespace vacuary::tool {
namespace {

bool worth_a_look(const Diagnostics& findings) {
  for (const Diagnostic& d : findings) {
    if (d.severity != Severity::note) return true;
  }
  return false;
}

}  // namespace

Status run_calibrate(const CalibrateArguments& arguments) {
  const Result<plan::Plan> plan = plan::load(arguments.recipe);
  complain(plan.diagnostics());
  if (!plan.ok()) return status_failed;
  const Result<plan::Strip> strip = plan::load_strip(arguments.strip, plan.value());
  complain(strip.diagnostics());
  if (!strip.ok()) return status_failed;
  const Result<calibrate::Calibration> fitted = calibrate::calibrate(plan.value(), strip.value());
  if (!fitted.has_value()) {
    complain(fitted.diagnostics());
    return status_failed;
  }
  std::string out;
  if (arguments.format == Format::json) {
    out = report::calibration_json(fitted.value(), fitted.diagnostics());
  } else {
    complain(fitted.diagnostics());
    out = report::calibration_text(fitted.value());
    if (arguments.block.empty()) out += "\nFor the chamber file\n\n" + fitted.value().block;
  }
  if (!arguments.block.empty()) {
    const auto written = write_file(arguments.block, fitted.value().block, arguments.force);
    complain(written.diagnostics());
    if (!written.ok()) return status_failed;
    if (arguments.format == Format::text) out += "\nFor the chamber file: " + arguments.block + "\n";
  }
  if (!deliver(out)) return status_failed;
  return worth_a_look(fitted.diagnostics()) ? status_findings : status_good;
}

}  // namespace vacuary::tool
