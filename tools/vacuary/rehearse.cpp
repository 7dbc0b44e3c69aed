#include "rehearse/rehearse.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "commands.hpp"
#include "plan/channel.hpp"

namespace vacuary::tool {
namespace {

Diagnostic usage(const char* message, const char* remedy) {
  Diagnostic d;
  d.rule = "usage";
  d.message = message;
  d.remedy = remedy;
  return d;
}

// practice.csv: practice.truth.json
std::filesystem::path truth_path(const std::filesystem::path& log) {
  return std::filesystem::path(log).replace_extension(".truth.json");
}

Result<rehearse::Options> options_of(const RehearseArguments& arguments) {
  rehearse::Options options;
  options.seed = arguments.seed;
  if (!arguments.start.empty() && !from_rfc3339(arguments.start, options.start)) {
    return usage("--start takes a time such as 2031-03-04T06:00:00Z",
                 "give date, time and offset as RFC 3339 has them");
  }
  Diagnostics complaints;
  for (const std::string& text : arguments.faults) {
    Result<rehearse::Fault> fault = rehearse::parse_fault(text);
    complaints.insert(complaints.end(), fault.diagnostics().begin(), fault.diagnostics().end());
    if (fault.has_value()) options.faults.push_back(std::move(fault).value());
  }
  if (has_errors(complaints)) return complaints;
  return options;
}

}  // namespace

Status run_rehearse(const RehearseArguments& arguments) {
  if (arguments.list_faults) return deliver(rehearse::fault_help()) ? status_good : status_failed;
  if (arguments.recipe.empty() || arguments.log.empty()) {
    complain(
        {usage("rehearse takes a RECIPE and the log to write, -o LOG", "see 'vacuary rehearse --help'")});
    return status_failed;
  }
  const Result<plan::Plan> plan = plan::load(arguments.recipe);
  complain(plan.diagnostics());
  if (!plan.ok()) return status_failed;
  Result<rehearse::Options> options = options_of(arguments);
  complain(options.diagnostics());
  if (!options.ok()) return status_failed;
  plan::ChannelMap map;
  if (!arguments.channels.empty()) {
    Result<plan::ChannelMap> loaded = plan::load_channels(arguments.channels, plan.value());
    complain(loaded.diagnostics());
    if (!loaded.ok()) return status_failed;
    map = std::move(loaded).value();
    options.value().map = &map;
  }
  const Result<rehearse::Rehearsal> rehearsal = rehearse::rehearse(plan.value(), options.value());
  complain(rehearsal.diagnostics());
  if (!rehearsal.ok()) return status_failed;

  // The truth first: a log without its truth would pass for a real one.
  const std::filesystem::path truth = truth_path(arguments.log);
  const auto truth_written = write_file(truth, rehearsal.value().truth_json, arguments.force);
  complain(truth_written.diagnostics());
  if (!truth_written.ok()) return status_failed;
  const auto log_written = write_file(arguments.log, rehearsal.value().log_csv, arguments.force);
  complain(log_written.diagnostics());
  if (!log_written.ok()) {
    if (!arguments.force) std::filesystem::remove(truth);
    return status_failed;
  }
  const std::string out = fmt::format("log    {}\ntruth  {}\n", arguments.log, truth.string());
  return deliver(out) ? status_good : status_failed;
}

}  // namespace vacuary::tool
