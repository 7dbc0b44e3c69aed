// Front door of `check`: a plan to findings.
//
// A finding is a Diagnostic that points at the line it is about and says the computed value with
// its uncertainty (found), the bound, what it assumed, and what would mend it.
#pragma once

#include <string>
#include <vector>

#include "model/model.hpp"
#include "plan/plan.hpp"

namespace vacuary::check {

// What there is to know about a rule; `explain RULE` prints it.
struct Rule {
  std::string name;  // kebab-case, says what is wrong
  Severity severity;
  std::string summary;      // one line
  std::string explanation;  // a few sentences a new colleague understands: what, why it matters,
                            // how it is computed, what it assumes, what mends it
};

// Every rule there is: the loader's (syntax, unknown-key, ...), the plan's and the physics'.
[[nodiscard]] const std::vector<Rule>& rules();
[[nodiscard]] const Rule* find_rule(const std::string& name);

// All findings, sorted by place. Pure.
[[nodiscard]] Diagnostics check(const plan::Plan& plan, const model::Prediction& prediction);

}  // namespace vacuary::check
