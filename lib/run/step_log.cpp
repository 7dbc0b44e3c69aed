#include "run/step_log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace vacuary::run {
namespace {

using plan::EndKind;
using plan::StepKind;

constexpr std::size_t most_odd = 20;

}  // namespace

void StepLog::take(const Stretch& rows) {
  if (rows.odd()) {
    odd_row(rows.front());
    return;
  }
  last_ = rows.back().time;
  if (rows.step() < 0) return;
  Span& span = spans_[static_cast<std::size_t>(rows.step())];
  span.end = last_;
  for (const Row& row : rows) span.actual_s += row.dt_s;
  period_s_ = rows.back().period_s;
}

void StepLog::odd_row(const Row& row) {
  if (!any_) first_ = row.time;
  any_ = true;
  last_ = row.time;
  if (row.step_before >= 0 && !row.first) {
    Span& before = spans_[static_cast<std::size_t>(row.step_before)];
    before.end = row.time;
    before.actual_s += row.dt_s;
    if (row.gap) before.gaps_s += greater(0.0, row.dt_s - row.period_s);
  }
  for (Span& other : spans_) other.last = false;
  if (row.step < 0) return;
  Span& span = spans_[static_cast<std::size_t>(row.step)];
  const bool enters = row.first || row.step != row.step_before;
  if (enters && odd_.size() < most_odd && (span.found || row.step < furthest_)) {
    odd_.push_back({row.step, span.found, row.time, row.line, scene_.step_name(furthest_)});
  }
  if (!span.found) {
    span.found = true;
    span.start = span.end = row.time;
    span.line = row.line;
  }
  furthest_ = std::max(furthest_, row.step);
  period_s_ = row.period_s;
  span.last = true;
}

std::string StepLog::step_at(Instant time) const {
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    if (spans_[s].found && spans_[s].start <= time && time < spans_[s].end)
      return scene_.step_name(static_cast<int>(s));
  }
  return {};
}

bool StepLog::vent_found() const {
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    if (spans_[s].found && scene_.plan.recipe.steps[s].kind == StepKind::vent) return true;
  }
  return false;
}

// The plant ended its step by a gauge of its own choice: how far that may be from the account's.
double StepLog::doubt_at(double pressure_pa) const {
  double worst = 0.05;
  for (const plan::Gauge& gauge : scene_.plan.chamber.gauges) {
    if (pressure_pa < gauge.low.value.value() || pressure_pa > gauge.high.value.value()) continue;
    worst = greater(worst, 3 * gauge.accuracy.value.value());
  }
  return worst;
}

bool StepLog::let_up_in(const Span& span, const Rest& rest) {
  return rest.vent && rest.vent->start >= span.start && rest.vent->start <= span.end;
}

std::string StepLog::ended_by(std::size_t s, const Rest& rest, bool& met) const {
  const plan::Step& step = scene_.plan.recipe.steps[s];
  const Span& span = spans_[s];
  const FilmSums& film = scene_.film.steps()[s];
  const auto index = static_cast<int>(s);
  std::string why;
  met = true;
  switch (step.end.kind) {
    case EndKind::time:
      met = span.actual_s >= 0.98 * step.end.time->value.value() - 2 * period_s_;
      why = "time";
      break;
    case EndKind::pressure: {
      const double wanted_pa = step.end.pressure->value.value();
      if (std::isnan(rest.vacuum.highest_pa(index))) return "pressure, as far as one knows: none is logged";
      met = step.kind == StepKind::vent
                ? rest.vacuum.highest_pa(index) > 0.8 * wanted_pa || rest.vent.has_value()
                : rest.vacuum.reached_pa(index) < (1 + doubt_at(wanted_pa)) * wanted_pa;
      why = "pressure reached";
      break;
    }
    case EndKind::turns:
      met = film.way.value() <= 0 || film.way.value() / full_turn_rad > step.end.turns->value.value() - 0.05;
      why = "turns";
      break;
    case EndKind::angle:
      met = film.way.value() <= 0 || film.way.value() > 0.99 * step.end.angle->value.value();
      why = "angle";
      break;
    case EndKind::energy:
      met = film.energy.value() <= 0 || film.energy.value() > 0.99 * step.end.energy->value.value();
      why = "energy";
      break;
    case EndKind::thickness:
      met = film.film.value() <= 0 || film.film.value() > 0.98 * step.end.thickness->value.value();
      why = "thickness by film per energy";
      break;
  }
  // Where the recipe's own vent follows, the step before it ended for a reason of its own.
  if (let_up_in(span, rest) && !vent_found()) {
    met = true;
    return "the vessel was let up";
  }
  if (met) return why;
  if (span.last) return "the log ends";
  const bool longest = span.actual_s >= 0.98 * step.longest.value.value() - 2 * period_s_;
  return longest ? "longest time allowed" : "ended before its condition (" + why + ")";
}

std::vector<StepAccount> StepLog::accounts(const Rest& rest) const {
  std::vector<StepAccount> accounts;
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    StepAccount account;
    account.step = scene_.plan.recipe.steps[s].name.value;
    account.kind = scene_.plan.recipe.steps[s].kind;
    account.found = spans_[s].found;
    if (s < rest.prediction.steps.size()) account.planned = rest.prediction.steps[s].duration;
    if (account.found) {
      bool met = true;
      account.start = spans_[s].start;
      account.end = spans_[s].end;
      account.actual = Duration::from_value(spans_[s].actual_s);
      account.gaps = Duration::from_value(spans_[s].gaps_s);
      account.ended_by = ended_by(s, rest, met);
      account.figures = rest.figures.of(s);
    }
    accounts.push_back(std::move(account));
  }
  return accounts;
}

Deviation StepLog::about(std::size_t s, const char* rule) const {
  Deviation d;
  d.rule = rule;
  d.step = scene_.step_name(static_cast<int>(s));
  d.start = spans_[s].start;
  d.end = spans_[s].end;
  d.line = spans_[s].line;
  return d;
}

void StepLog::tell_missing(Findings& findings) const {
  std::string after;
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    if (spans_[s].found) continue;
    if (static_cast<int>(s) > furthest_) {
      after += (after.empty() ? "'" : ", '") + scene_.step_name(static_cast<int>(s)) + "'";
      continue;
    }
    Deviation d = about(s, "step-missing");
    d.start = d.end = first_;
    const StepKind kind = scene_.plan.recipe.steps[s].kind;
    d.effect = fmt::format("The log shows later steps but never step '{}'.", d.step);
    if (kind == StepKind::presputter)
      d.effect += " Film from a target that was not conditioned is not what the calibration speaks of.";
    if (kind == StepKind::plasma_clean)
      d.effect +=
          " The glass was not cleaned by the glow, as far as the log shows: look at the film's adhesion.";
    d.advice = "If the step was done, find the part of the log that shows it.";
    findings.add(std::move(d));
  }
  if (after.empty()) return;
  Deviation d;
  d.rule = "log-ends-early";
  d.origin = Origin::log;
  d.severity = Severity::note;
  d.start = d.end = last_;
  d.step = furthest_ >= 0 ? scene_.step_name(furthest_) : std::string{};
  d.effect = fmt::format("The log ends before {}.", after);
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    if (!spans_[s].found && scene_.plan.recipe.steps[s].kind == StepKind::sputter)
      d.severity = Severity::warning;
  }
  findings.add(std::move(d));
}

void StepLog::tell_span(std::size_t s, const Rest& rest, Findings& findings) const {
  const Span& span = spans_[s];
  const plan::Step& step = scene_.plan.recipe.steps[s];
  bool met = true;
  const std::string why = ended_by(s, rest, met);
  const double longest_s = step.longest.value.value();
  const Unit& minutes = unit("min", Kind::duration);
  // While the vessel was let up a log may go on as long as it likes. Where the recipe's own vent follows,
  // that is not in the step before it, though the pressure's last low row may be.
  const bool let_up = let_up_in(span, rest) && (step.kind == StepKind::vent || !vent_found());
  if (span.actual_s > 1.01 * longest_s + 2 * period_s_ && !let_up) {
    Deviation d = about(s, "step-too-long");
    d.unit = minutes;
    d.worst = span.actual_s / 60;
    d.limit = longest_s / 60;
    d.effect = fmt::format("Took {} where at most {} are allowed.", duration_words(span.actual_s),
                           duration_words(longest_s));
    if (step.kind == StepKind::sputter) d.effect += " The film by energy is what counts; see its thickness.";
    d.advice = "Find out what the step waited for.";
    findings.add(std::move(d));
  }
  if (met || span.last) return;
  Deviation d = about(s, "step-ended-early");
  d.effect =
      fmt::format("Ended after {}, {}.", duration_words(span.actual_s),
                  why == "longest time allowed" ? "the longest time allowed, without reaching its end" : why);
  if (step.end.kind == EndKind::turns) {
    const double turns = scene_.film.steps()[s].way.value() / full_turn_rad;
    d.unit = unit("turn", Kind::angle);
    d.worst = turns;
    d.limit = step.end.turns->value.value();
    d.effect = fmt::format(
        "{:.2f} of {:g} turns were made: the film is short by that share, and where the last turn broke off "
        "there is a seam.",
        turns, *d.limit);
  }
  d.advice = "Ask who or what ended the step.";
  findings.add(std::move(d));
}

void StepLog::finish(const Rest& rest, Findings& findings) const {
  tell_missing(findings);
  for (std::size_t s = 0; s < spans_.size(); ++s) {
    if (spans_[s].found) tell_span(s, rest, findings);
  }
  for (const Odd& odd : odd_) {
    Deviation d =
        about(static_cast<std::size_t>(odd.step), odd.repeated ? "step-repeated" : "step-out-of-order");
    d.start = d.end = odd.time;
    d.line = odd.line;
    d.effect =
        odd.repeated
            ? fmt::format("Step '{}' begins a second time; its figures cover both times.", d.step)
            : fmt::format("Step '{}' comes after '{}', in the recipe it comes before.", d.step, odd.after);
    d.advice = "Ask the operator what happened.";
    findings.add(std::move(d));
  }
  for (const UnknownStep& unknown : rest.steps.unknown()) {
    Deviation d;
    d.rule = "unknown-step";
    d.origin = Origin::log;
    d.start = d.end = unknown.time;
    d.line = unknown.line;
    d.channel = "run.step";
    d.effect =
        fmt::format("The log's step '{}' is none of the recipe's; its rows belong to no step.", unknown.text);
    d.advice = "Name it in the channel map under step_names.";
    findings.add(std::move(d));
  }
}

}  // namespace vacuary::run
