// Inside of `check`: what a rule is made of. Other rooms include check.hpp only.
//
// A rule is one self-contained function beside its name, severity and explanation in the table of
// the file it lives in. It sees the Facts, says what it has to say to Findings, and knows of no
// other rule. A new rule is one entry, one bad case and its expected text in tests/check/bad.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "check/check.hpp"
#include "check/situation.hpp"

namespace vacuary::check {

// What a rule may look at.
struct Facts {
  const plan::Plan& plan;
  const model::Prediction& prediction;
  std::vector<Situation> before;  // the state the plan leaves the chamber in before each step

  [[nodiscard]] const std::vector<plan::Step>& steps() const { return plan.recipe.steps; }
};

// Collects what one rule says. The finding is returned for the caller to fill in; it is valid
// until the next call.
class Findings {
 public:
  explicit Findings(const Rule& rule) : rule_(rule) {}

  Diagnostic& add(const Region& at, std::string message) {
    return add(rule_.severity, at, std::move(message));
  }
  // For a value so near its bound that its uncertainty decides: less severe than the rule itself.
  Diagnostic& add(Severity severity, const Region& at, std::string message);

  [[nodiscard]] Diagnostics&& take() { return std::move(all_); }

 private:
  const Rule& rule_;
  Diagnostics all_;
};

struct RuleEntry {
  Rule rule;
  void (*look)(const Facts&, Findings&) = nullptr;  // null: another room says it
};

// The tables, one a file, in the order in which `explain` lists them.
[[nodiscard]] std::vector<RuleEntry> loader_rules();
[[nodiscard]] std::vector<RuleEntry> setpoint_rules();
[[nodiscard]] std::vector<RuleEntry> limit_rules();
[[nodiscard]] std::vector<RuleEntry> order_rules();
[[nodiscard]] std::vector<RuleEntry> pumping_rules();
[[nodiscard]] std::vector<RuleEntry> film_rules();
[[nodiscard]] std::vector<RuleEntry> quality_rules();
[[nodiscard]] std::vector<RuleEntry> optic_rules();
[[nodiscard]] std::vector<RuleEntry> schedule_rules();
[[nodiscard]] std::vector<RuleEntry> bench_rules();

// A second place for a finding, when the region is in a file.
[[nodiscard]] std::optional<SecondPlace> second_place(const Region& at, std::string label);

}  // namespace vacuary::check
