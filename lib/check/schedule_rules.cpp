// The whole run against the time there is for it.
#include <cmath>

#include "check/rule.hpp"
#include "check/words.hpp"

namespace vacuary::check {
namespace {

void run_longer_than_downtime(const Facts& facts, Findings& out) {
  const plan::Maybe<Duration>& window = facts.plan.recipe.downtime;
  const std::optional<Estimate<Duration>>& total = facts.prediction.total;
  if (!window || !total) return;
  const Standing standing = against_at_most(*total, window->value);
  if (standing == Standing::within) return;
  const Unit& unit = window->unit;
  Diagnostic& d = out.add(standing == Standing::beyond ? Severity::error : Severity::warning, window->at,
                          fmt::format("the run {} longer than the downtime there is for it",
                                      standing == Standing::beyond ? "takes" : "may take"));
  d.found = time_words(*total, unit);
  d.bound = "at most " + words(*window);
  std::size_t slowest = 0;
  double slowest_s = 0;
  for (std::size_t i = 0; i < facts.prediction.steps.size() && i < facts.steps().size(); ++i) {
    const std::optional<Estimate<Duration>>& duration = facts.prediction.steps[i].duration;
    if (duration && duration->value.value() > slowest_s) {
      slowest_s = duration->value.value();
      slowest = i;
    }
  }
  d.assumed.push_back("no time between the steps");
  d.remedy = fmt::format("allow {}, or shorten '{}', which takes {} of it",
                         at_least_words(Duration(total->value + expanded(*total)), unit),
                         facts.steps()[slowest].name.value, words(Duration::from_value(slowest_s), unit, 2));
}

void clean_to_film_too_long(const Facts& facts, Findings& out) {
  const plan::Maybe<Duration>& most = facts.plan.recipe.clean_to_film_max;
  if (!most) return;
  for (std::size_t film = 0; film < facts.steps().size() && film < facts.prediction.steps.size(); ++film) {
    const std::optional<Estimate<Duration>>& since = facts.prediction.steps[film].since_clean;
    if (!since || facts.before[film].clean == nullptr) continue;
    const Estimate<Duration>& time = *since;
    const Standing standing = against_at_most(time, most->value);
    if (standing == Standing::within) continue;
    const Unit& unit = most->unit;
    Diagnostic& d = out.add(
        standing == Standing::beyond ? Severity::error : Severity::warning, most->at,
        fmt::format("'{}' {} later after the clean than the recipe allows", facts.steps()[film].name.value,
                    standing == Standing::beyond ? "starts" : "may start"));
    d.found = time_words(time, unit);
    d.bound = "at most " + words(*most);
    d.assumed.push_back("no time between the steps");
    d.remedy = "clean later in the pumpdown, or pump down faster";
    d.second = second_place(facts.before[film].clean->kind_at, "the clean");
  }
}

}  // namespace

std::vector<RuleEntry> schedule_rules() {
  return {
      {{"run-longer-than-downtime", Severity::error, "a run that does not fit the downtime",
        "The predicted times of all steps, one after the other with nothing between, are longer than the "
        "window the recipe states. Pumpdown times share their uncertainty, so it is added, not averaged. "
        "When only the uncertainty reaches past the window it is a warning."},
       run_longer_than_downtime},
      {{"clean-to-film-too-long", Severity::error, "too long from the clean to the film",
        "A cleaned surface takes up water and oil again. The predicted time from the end of the last "
        "plasma clean to the start of the film, with its uncertainty, is longer than the recipe allows."},
       clean_to_film_too_long},
  };
}

}  // namespace vacuary::check
