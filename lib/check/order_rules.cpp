// What must have happened before a step, and what must not stand in it.
#include <algorithm>

#include "check/rule.hpp"
#include "check/words.hpp"
#include "plan/channel.hpp"

namespace vacuary::check {
namespace {

using plan::StepKind;

bool wants_vacuum(StepKind kind) {
  return kind == StepKind::rate_of_rise || kind == StepKind::plasma_clean || kind == StepKind::presputter ||
         kind == StepKind::sputter;
}

void step_without_vacuum(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const Situation& before = facts.before[i];
    if (!wants_vacuum(step.kind) || !before.at_air) continue;
    Diagnostic& d =
        out.add(step.kind_at, fmt::format("'{}' needs vacuum, but the chamber is at air", step.name.value));
    d.remedy = "put a pumpdown step before it";
    if (before.vent != nullptr) {
      d.second =
          second_place(before.vent->kind_at, fmt::format("'{}' lets the air in", before.vent->name.value));
    } else {
      d.assumed.push_back("the run starts with the chamber just closed, at air");
    }
  }
}

void film_before_base(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const Situation& before = facts.before[i];
    if (step.kind != StepKind::sputter || before.at_air) continue;
    if (before.base != nullptr && before.base->end.pressure) continue;
    if (before.base != nullptr) {
      Diagnostic& d =
          out.add(Severity::warning, step.kind_at,
                  fmt::format("'{}' lays film, but nothing makes sure that base pressure was reached",
                              step.name.value));
      d.remedy = fmt::format("let '{}' end on a pressure instead of on a time", before.base->name.value);
      d.second = second_place(before.base->end.at, "pumps for a time, whatever the pressure");
      continue;
    }
    Diagnostic& d = out.add(
        step.kind_at,
        before.clean != nullptr
            ? fmt::format("'{}' lays film before base pressure was reached after the clean", step.name.value)
            : fmt::format("'{}' lays film before base pressure was reached", step.name.value));
    d.remedy = "put a pumpdown with a high-vacuum pump, ending on the base pressure, before it";
    if (before.clean != nullptr) d.second = second_place(before.clean->kind_at, "the last clean");
  }
}

void target_not_conditioned(const Facts& facts, Findings& out) {
  for (std::size_t i = 0; i < facts.steps().size(); ++i) {
    const plan::Step& step = facts.steps()[i];
    const Situation& before = facts.before[i];
    if (step.kind != StepKind::sputter || !step.cathode || before.at_air) continue;
    const std::vector<std::string>& done = before.conditioned;
    if (std::find(done.begin(), done.end(), step.cathode->value) != done.end()) continue;
    Diagnostic& d =
        out.add(step.cathode->at,
                fmt::format("'{}' sputters from '{}', whose target was not conditioned behind the shutter",
                            step.name.value, step.cathode->value));
    d.remedy = fmt::format("put a presputter step with cathode '{}' before it, after the last clean or vent",
                           step.cathode->value);
    if (before.clean != nullptr)
      d.second = second_place(before.clean->kind_at, "the last clean, which oxidises targets");
  }
}

void sputter_without_rotation(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    if (step.kind != StepKind::sputter) continue;
    if (step.rotation && step.rotation->value.value() > 0) continue;
    Diagnostic& d = out.add(step.rotation ? step.rotation->at : step.kind_at,
                            fmt::format("'{}' lays film on an optic that does not turn", step.name.value));
    d.found = "0 rpm";
    d.bound = "above 0 rpm: all film would land under the standing beam";
    d.remedy = "state the rotation of the step";
  }
}

// Dew forms on glass colder than the dew point; the room's sensor and the glass may both be off.
constexpr double dew_margin_k = 2;

void vent_below_dew_point(const Facts& facts, Findings& out) {
  const plan::Given<Temperature>& gas = facts.plan.chamber.gas_temperature;
  for (const plan::Step& step : facts.steps()) {
    if (step.kind != StepKind::vent || !step.dew_point) continue;
    const double optic_k = thermodynamic(gas.value).value();
    const double dew_k = thermodynamic(step.dew_point->value).value();
    const Standing standing = against_at_most(dew_k, dew_margin_k, optic_k);
    if (standing == Standing::within) continue;
    const Unit& unit = step.dew_point->unit;
    Diagnostic& d =
        standing == Standing::beyond
            ? out.add(step.dew_point->at,
                      fmt::format("'{}' lets room air on to an optic below its dew point", step.name.value))
            : out.add(Severity::warning, step.dew_point->at,
                      fmt::format("'{}' lets room air on to an optic near its dew point", step.name.value));
    d.found = "dew point " + words(*step.dew_point);
    const Temperature highest = Temperature::from_value(optic_k - dew_margin_k);
    d.bound = fmt::format("at most {}, {} K below the optic", words(highest, unit), number(dew_margin_k, 2));
    d.assumed.push_back(fmt::format("the optic is at the chamber's gas temperature, {}", words(gas)));
    d.remedy = "warm the optic, vent with dry nitrogen, or dry the room";
  }
}

// The pressure at which a step makes the ion gauge run that its limits name.
std::optional<plan::Given<Pressure>> pressure_in(const plan::Step& step) {
  if (step.pressure) return step.pressure;
  if (step.kind == StepKind::vent && step.end.pressure) return step.end.pressure;
  return std::nullopt;
}

void ion_gauge_too_high(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const std::optional<plan::Given<Pressure>> pressure = pressure_in(step);
    if (!pressure) continue;
    for (const plan::Limit& limit : step.limits) {
      const std::optional<plan::Channel> channel = plan::parse_channel(limit.channel.value);
      const plan::Gauge* gauge = channel ? plan::gauge(facts.plan.chamber, channel->device) : nullptr;
      if (gauge == nullptr || !gauge->off_above || pressure->value <= gauge->off_above->value) continue;
      Diagnostic& d = out.add(limit.channel.at,
                              fmt::format("'{}' needs gauge '{}' on at a pressure at which it must be off",
                                          step.name.value, gauge->name.value));
      d.found = words(*pressure);
      d.bound = "at most " + words(gauge->off_above->value, pressure->unit);
      d.remedy = "watch a gauge that stands this pressure, or chamber.pressure";
      d.second =
          second_place(gauge->off_above->at, fmt::format("'{}' must be off above this", gauge->name.value));
    }
  }
}

}  // namespace

std::vector<RuleEntry> order_rules() {
  return {
      {{"step-without-vacuum", Severity::error, "a step that needs vacuum while the chamber is at air",
        "A plasma clean, presputter, sputter or rate-of-rise step comes first in the recipe, or after a "
        "vent with no pumpdown between. The chamber is taken to be closed and at air when the run starts."},
       step_without_vacuum},
      {{"film-before-base", Severity::error, "film before base pressure was reached",
        "Between the last clean or vent and the film there is no pumpdown by a high-vacuum pump. Water "
        "and what the clean set free would go into the film: it comes out yellow, dull or loose. A glow "
        "clean may come during roughing; base pressure must be reached after it. A pumpdown that ends on "
        "a time proves nothing about the pressure and gives a warning."},
       film_before_base},
      {{"target-not-conditioned", Severity::error, "film from a target that was not pre-sputtered",
        "Since the last clean or vent no presputter step ran this cathode behind its shutter. Air and "
        "oxygen leave an oxide on the target that sputters several times slower: power and energy look "
        "perfect while the first turns come out thin and dark."},
       target_not_conditioned},
      {{"sputter-without-rotation", Severity::error, "film on an optic that stands still",
        "The film of a standing optic heaps up under the cathode, and the rest stays bare."},
       sputter_without_rotation},
      {{"vent-below-dew-point", Severity::error, "a vent on to an optic below the dew point",
        "Glass colder than the dew point of the room takes dew the moment air comes in, and fresh "
        "aluminium stains. The optic is taken to be at the chamber's gas temperature; within 2 K it is a "
        "warning."},
       vent_below_dew_point},
      {{"ion-gauge-too-high", Severity::error, "an ion gauge on where it must be off",
        "A limit of the step watches a gauge that must be switched off above a pressure below that of the "
        "step. Its filament burns or it feeds the glow; either way it reads nonsense."},
       ion_gauge_too_high},
  };
}

}  // namespace vacuary::check
