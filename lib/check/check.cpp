#include "check/check.hpp"

#include <algorithm>
#include <iterator>

#include "check/rule.hpp"

namespace vacuary::check {
namespace {

const std::vector<RuleEntry>& table() {
  static const std::vector<RuleEntry> all = [] {
    std::vector<RuleEntry> entries;
    for (auto part : {loader_rules, setpoint_rules, limit_rules, order_rules, pumping_rules, film_rules,
                      quality_rules, optic_rules, schedule_rules, bench_rules}) {
      std::vector<RuleEntry> some = part();
      std::move(some.begin(), some.end(), std::back_inserter(entries));
    }
    return entries;
  }();
  return all;
}

}  // namespace

Diagnostic& Findings::add(Severity severity, const Region& at, std::string message) {
  Diagnostic finding;
  finding.severity = severity;
  finding.rule = rule_.name;
  finding.message = std::move(message);
  finding.where = at.place();
  return all_.emplace_back(std::move(finding));
}

std::optional<SecondPlace> second_place(const Region& at, std::string label) {
  std::optional<Place> place = at.place();
  if (!place) return std::nullopt;
  return SecondPlace{*std::move(place), std::move(label)};
}

const std::vector<Rule>& rules() {
  static const std::vector<Rule> all = [] {
    std::vector<Rule> some;
    for (const RuleEntry& entry : table()) some.push_back(entry.rule);
    return some;
  }();
  return all;
}

const Rule* find_rule(const std::string& name) {
  const auto at = std::find_if(rules().begin(), rules().end(), [&](const Rule& r) { return r.name == name; });
  return at == rules().end() ? nullptr : &*at;
}

Diagnostics check(const plan::Plan& plan, const model::Prediction& prediction) {
  const Facts facts{plan, prediction, situations(plan)};
  Diagnostics all;
  for (const RuleEntry& entry : table()) {
    if (entry.look == nullptr) continue;
    Findings findings(entry.rule);
    entry.look(facts, findings);
    Diagnostics some = findings.take();
    std::move(some.begin(), some.end(), std::back_inserter(all));
  }
  sort_by_place(all);
  return all;
}

}  // namespace vacuary::check
