#include "check/situation.hpp"

#include <algorithm>
#include <numbers>

namespace vacuary::check {
namespace {

const plan::Pump* named_pump(const plan::Chamber& chamber, const plan::Step& step, bool high_vacuum) {
  for (const plan::GivenText& name : step.pumps) {
    const plan::Pump* pump = plan::pump(chamber, name.value);
    if (pump != nullptr && is_high_vacuum(*pump) == high_vacuum) return pump;
  }
  return nullptr;
}

void state_pressure(Situation& now, const plan::Maybe<Pressure>& pressure) {
  now.pressure.reset();
  now.pressure_at = {};
  if (!pressure) return;
  now.pressure = pressure->value;
  now.pressure_at = pressure->at;
}

void let_air_in(Situation& now, const plan::Step& step) {
  now = Situation{};
  now.vent = &step;
}

// What `step` changes. A kind that is not named here leaves the chamber as it was.
void apply(Situation& now, const plan::Step& step, const plan::Chamber& chamber) {
  switch (step.kind) {
    case plan::StepKind::pumpdown:
      now.at_air = false;
      state_pressure(now, step.end.pressure);
      if (high_vacuum_pump(chamber, step) != nullptr) now.base = &step;
      break;
    case plan::StepKind::plasma_clean:
      now.clean = &step;
      now.base = nullptr;
      now.conditioned.clear();
      state_pressure(now, step.pressure);
      break;
    case plan::StepKind::presputter:
      if (step.cathode) now.conditioned.push_back(step.cathode->value);
      state_pressure(now, step.pressure);
      break;
    case plan::StepKind::sputter:
      state_pressure(now, step.pressure);
      break;
    case plan::StepKind::hold:
      if (step.pressure) state_pressure(now, step.pressure);
      break;
    case plan::StepKind::rate_of_rise:
      state_pressure(now, std::nullopt);  // it rises; how far is what the step measures
      break;
    case plan::StepKind::vent:
      let_air_in(now, step);
      break;
  }
  now.previous = &step;
}

}  // namespace

std::vector<Situation> situations(const plan::Plan& plan) {
  std::vector<Situation> before;
  Situation now;
  for (const plan::Step& step : plan.recipe.steps) {
    before.push_back(now);
    apply(now, step, plan.chamber);
  }
  return before;
}

bool is_high_vacuum(const plan::Pump& pump) { return pump.kind != plan::PumpKind::roughing; }

const plan::Pump* high_vacuum_pump(const plan::Chamber& chamber, const plan::Step& step) {
  return named_pump(chamber, step, true);
}

const plan::Pump* roughing_pump(const plan::Chamber& chamber, const plan::Step& step) {
  return named_pump(chamber, step, false);
}

std::string main_gas(const plan::Chamber& chamber, const plan::Step& step, Pressure pressure) {
  const plan::GasFlow* most = nullptr;
  for (const plan::GasFlow& gas : step.gas) {
    if (gas.flow.value.value() <= 0) continue;
    if (most == nullptr || gas.flow.value > most->flow.value) most = &gas;
  }
  if (most != nullptr) {
    const plan::GasLine* line = plan::gas_line(chamber, most->line.value);
    if (line != nullptr) return line->gas.value;
  }
  constexpr double water_rules_below_pa = 0.1;
  return pressure.value() < water_rules_below_pa ? "H2O" : "air";
}

double sensitivity(const plan::Gauge& gauge, const std::string& gas) {
  if (gauge.reads == plan::GaugeReads::true_pressure) return 1;
  const auto factor = std::find_if(gauge.gas_factors.begin(), gauge.gas_factors.end(),
                                   [&](const plan::GasFactor& f) { return f.gas.value == gas; });
  return factor == gauge.gas_factors.end() ? 1 : factor->relative_sensitivity.value.value();
}

std::optional<Duration> planned_duration(const plan::Step& step) {
  const plan::End& end = step.end;
  if (end.time) return end.time->value;
  const double speed_rad_per_s = step.rotation ? step.rotation->value.value() : 0;
  if (end.turns && speed_rad_per_s > 0) {
    return Duration::from_value(end.turns->value.value() * 2 * std::numbers::pi / speed_rad_per_s);
  }
  if (end.angle && speed_rad_per_s > 0)
    return Duration::from_value(end.angle->value.value() / speed_rad_per_s);
  if (end.energy && step.power && step.power->value.value() > 0) {
    // A ramp from nothing gives half the power while it lasts.
    const double ramp_s = step.ramp ? step.ramp->value.value() : 0;
    const double flat_s = end.energy->value.value() / step.power->value.value();
    return Duration::from_value(flat_s + ramp_s / 2);
  }
  return std::nullopt;
}

}  // namespace vacuary::check
