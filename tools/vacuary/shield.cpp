#include <fmt/format.h>

#include <filesystem>

#include "commands.hpp"
#include "report/report.hpp"
#include "trim/trim.hpp"

namespace vacuary::tool {
namespace {

Diagnostic usage(const std::string& message, const std::string& remedy) {
  Diagnostic d;
  d.rule = "usage";
  d.message = message;
  d.remedy = remedy;
  return d;
}

// An option that is a quantity, as in the plan files.
template <class Q>
void take(const char* option, const std::string& text, std::optional<Q>& into, Diagnostics& complaints) {
  if (text.empty()) return;
  const auto parsed = parse<Q>(text);
  if (const auto* problem = std::get_if<TextProblem>(&parsed)) {
    complaints.push_back(usage(fmt::format("{}: {}", option, problem->message),
                               problem->remedy.empty()
                                   ? fmt::format("give a value such as \"{}\"", example(KindOf<Q>::value))
                                   : problem->remedy));
  } else {
    into = std::get<Written<Q>>(parsed).value;
  }
}

Result<trim::Wanted> wanted_by(const ShieldArguments& a) {
  trim::Wanted wanted;
  Diagnostics complaints;
  std::optional<Length> step;
  take("--uniformity", a.uniformity, wanted.uniformity, complaints);
  take("--widest", a.widest, wanted.widest, complaints);
  take("--narrowest", a.narrowest, wanted.narrowest, complaints);
  take("--height", a.height, wanted.height, complaints);
  take("--step", a.step, step, complaints);
  if (wanted.uniformity && !(wanted.uniformity->value() > 0 && wanted.uniformity->value() <= 1))
    complaints.push_back(
        usage("--uniformity must be more than 0 %, at most 100 %", "such as --uniformity \"3 %\""));
  if (step) wanted.step = *step;
  wanted.cathode = a.cathode;
  if (has_errors(complaints)) return complaints;
  return wanted;
}

// With JSON on standard output, which files were written would spoil it.
Status write_all(const std::filesystem::path& folder, const trim::Proposal& proposal, bool force,
                 bool quiet) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  const std::pair<const char*, std::string> files[] = {{"shield.svg", report::shield_drawing(proposal)},
                                                       {"shield.csv", report::shield_csv(proposal)},
                                                       {"shield.json", report::shield_json(proposal)},
                                                       {"shield.toml", report::shield_block(proposal)},
                                                       {"shield.txt", report::shield_text(proposal)}};
  std::string out = "\nFiles\n";
  for (const auto& [name, text] : files) {
    const auto written = write_file(folder / name, text, force);
    complain(written.diagnostics());
    if (!written.ok()) return status_failed;
    out += "  " + (folder / name).string() + "\n";
  }
  return quiet || deliver(out) ? status_good : status_failed;
}

}  // namespace

Status run_shield(const ShieldArguments& arguments) {
  const Result<trim::Wanted> wanted = wanted_by(arguments);
  complain(wanted.diagnostics());
  if (!wanted.ok()) return status_failed;
  const Result<plan::Plan> plan = plan::load(arguments.recipe);
  complain(plan.diagnostics());
  if (!plan.ok()) return status_failed;
  const Result<trim::Proposal> proposal = trim::propose_shield(plan.value(), wanted.value());
  complain(proposal.diagnostics());
  if (!proposal.ok()) return status_failed;
  const bool json = arguments.format == Format::json;
  if (!deliver(json ? report::shield_json(proposal.value()) : report::shield_text(proposal.value())))
    return status_failed;
  if (!arguments.folder.empty()) {
    if (const Status written = write_all(arguments.folder, proposal.value(), arguments.force, json);
        written != status_good)
      return written;
  }
  return proposal.value().reached ? status_good : status_findings;
}

}  // namespace vacuary::tool
