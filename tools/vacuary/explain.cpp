#include <fmt/format.h>

#include "check/check.hpp"
#include "commands.hpp"

namespace vacuary::tool {
namespace {

std::string listing() {
  std::string out;
  for (const check::Rule& rule : check::rules()) {
    out += fmt::format("{:<36} {:<8} {}\n", rule.name, name(rule.severity), rule.summary);
  }
  return out;
}

Diagnostic unknown_rule(const std::string& wanted) {
  std::vector<std::string> names;
  for (const check::Rule& rule : check::rules()) names.push_back(rule.name);
  Diagnostic d;
  d.rule = "unknown-rule";
  d.message = fmt::format("there is no rule '{}'", wanted);
  const std::optional<std::string> near = nearest(wanted, names);
  d.remedy =
      near ? fmt::format("did you mean '{}'?", *near) : "'vacuary explain' without a name lists them all";
  return d;
}

}  // namespace

Status run_explain(const ExplainArguments& arguments) {
  if (arguments.rule.empty()) return deliver(listing()) ? status_good : status_failed;
  const check::Rule* rule = check::find_rule(arguments.rule);
  if (rule == nullptr) {
    complain({unknown_rule(arguments.rule)});
    return status_failed;
  }
  const std::string out =
      fmt::format("{} ({})\n{}\n\n{}\n", rule->name, name(rule->severity), rule->summary, rule->explanation);
  return deliver(out) ? status_good : status_failed;
}

}  // namespace vacuary::tool
