#include "rehearse/control.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace vacuary::rehearse {

namespace {

constexpr double spin_up_s = 60;  // the optic turns this long before the shutter may open

const plan::Pump* find_pump(const plan::Chamber& chamber, const std::string& name) {
  for (const plan::Pump& pump : chamber.pumps) {
    if (pump.name.value == name) {
      return &pump;
    }
  }
  return nullptr;
}

template <class Q>
double or_zero(const plan::Maybe<Q>& given) {
  return given ? given->value.value() : 0;
}

bool lays_film(const plan::Step& step) {
  return step.kind == plan::StepKind::presputter || step.kind == plan::StepKind::sputter;
}

}  // namespace

Control::Control(const plan::Plan& plan) : plan_(&plan) {
  commands_.flow_mol_s.assign(plan.chamber.gas_lines.size(), 0);
}

bool Control::decide(const Sight& sight, std::string& why) {
  const plan::Step& step = current();
  bool ended = false;
  switch (step.kind) {
    case plan::StepKind::pumpdown:
      ended = pumpdown(sight, why);
      break;
    case plan::StepKind::plasma_clean:
      ended = plasma_clean(sight, why);
      break;
    case plan::StepKind::presputter:
      ended = presputter(sight, why);
      break;
    case plan::StepKind::sputter:
      ended = sputter(sight, why);
      break;
    case plan::StepKind::hold:
    case plan::StepKind::rate_of_rise:
      ended = hold(sight, why);
      break;
    case plan::StepKind::vent:
      ended = vent(sight, why);
      break;
  }
  if (!ended && !closing_ && sight.step_s >= step.longest.value.value()) {
    why = "longest time";
    ended = true;
  }
  if (ended) {
    ++step_;
    filled_ = opened_ = closing_ = false;
    commands_.open = false;
  }
  return ended;
}

void Control::select_pumps(const Sight& sight) {
  bool roughing = false;
  bool high_vacuum = false;
  double crossover_pa = 1e9;
  for (const plan::GivenText& name : current().pumps) {
    const plan::Pump* pump = find_pump(plan_->chamber, name.value);
    if (pump == nullptr) {
      continue;
    }
    const bool rough = pump->kind == plan::PumpKind::roughing;
    roughing |= rough;
    high_vacuum |= !rough;
    if (!rough && pump->crossover_max) {
      crossover_pa = std::min(crossover_pa, pump->crossover_max->value.value());
    }
  }
  if (!high_vacuum) {
    on_high_vacuum_ = false;
  } else if (!roughing || sight.pressure_pa < 0.9 * crossover_pa) {
    on_high_vacuum_ = true;
  }
  commands_.high_vacuum = on_high_vacuum_;
  commands_.roughing = roughing && !on_high_vacuum_;
  commands_.throttle = current().throttle ? current().throttle->value.value() : 1;
}

void Control::select_gas() {
  std::fill(commands_.flow_mol_s.begin(), commands_.flow_mol_s.end(), 0.0);
  for (const plan::GasFlow& gas : current().gas) {
    for (std::size_t i = 0; i < plan_->chamber.gas_lines.size(); ++i) {
      if (plan_->chamber.gas_lines[i].name.value == gas.line.value) {
        commands_.flow_mol_s[i] = gas.flow.value.value();
      }
    }
  }
}

void Control::set_power() {
  const plan::Step& step = current();
  for (std::size_t i = 0; step.cathode && i < plan_->chamber.cathodes.size(); ++i) {
    if (plan_->chamber.cathodes[i].name.value == step.cathode->value) {
      commands_.cathode = i;
    }
  }
  commands_.power_w = or_zero(step.power);
  commands_.ramp_s = step.ramp ? step.ramp->value.value() : 10;
}

bool Control::reached(const Sight& sight, std::string& why) const {
  const plan::End& end = current().end;
  const bool film = current().kind == plan::StepKind::sputter;
  switch (end.kind) {
    case plan::EndKind::time:
      why = "time";
      return sight.step_s - (film ? opened_s_ : 0) >= or_zero(end.time);
    case plan::EndKind::pressure:
      why = "pressure";
      return sight.for_end_pa <= or_zero(end.pressure);
    case plan::EndKind::energy:
      why = "energy";
      return sight.energy_j - opened_j_ >= or_zero(end.energy);
    case plan::EndKind::turns:
      why = "turns";
      return sight.drive_rad - opened_rad_ >= 2 * std::numbers::pi * or_zero(end.turns);
    case plan::EndKind::angle:
      why = "angle";
      return sight.drive_rad - opened_rad_ >= or_zero(end.angle);
    case plan::EndKind::thickness: {
      why = "thickness by film per energy";
      const double kappa =
          plan_->chamber.cathodes[commands_.cathode].calibration.film_per_energy.value.value();
      return (sight.energy_j - opened_j_) * kappa >= or_zero(end.thickness);
    }
  }
  return false;
}

bool Control::pumpdown(const Sight& sight, std::string& why) {
  commands_ = Commands{.flow_mol_s = std::vector<double>(plan_->chamber.gas_lines.size(), 0)};
  select_pumps(sight);
  select_gas();
  return sight.step_s > 1 && reached(sight, why);
}

// The throttle stays nearly shut until the wanted pressure is there: with it open the vessel would
// take minutes to fill.
bool Control::plasma_clean(const Sight& sight, std::string& why) {
  const plan::Step& step = current();
  select_pumps(sight);
  select_gas();
  const double wanted_pa = or_zero(step.pressure);
  filled_ |= sight.pressure_pa >= 0.97 * wanted_pa || sight.step_s >= 50;
  if (!filled_) {
    commands_.throttle *= 0.1;
  }
  commands_.speed_rad_s = or_zero(step.rotation);
  commands_.glow = filled_;
  commands_.glow_v = or_zero(step.voltage);
  commands_.glow_a = or_zero(step.current);
  const bool ended = reached(sight, why);
  if (ended) {
    commands_.glow = false;
    commands_.speed_rad_s = 0;
  }
  return ended;
}

bool Control::presputter(const Sight& sight, std::string& why) {
  select_pumps(sight);
  select_gas();
  filled_ |= sight.pressure_pa >= 0.85 * or_zero(current().pressure) || sight.step_s >= 40;
  if (filled_) {
    set_power();
  }
  // The optic must turn before the shutter opens, so it starts at the end of the step before.
  commands_.speed_rad_s = or_zero(current().rotation);
  const std::size_t next = step_ + 1;
  if (next < plan_->recipe.steps.size() && plan_->recipe.steps[next].kind == plan::StepKind::sputter &&
      current().end.kind == plan::EndKind::time && sight.step_s >= or_zero(current().end.time) - spin_up_s) {
    commands_.speed_rad_s = or_zero(plan_->recipe.steps[next].rotation);
  }
  return reached(sight, why);
}

bool Control::sputter(const Sight& sight, std::string& why) {
  const plan::Step& step = current();
  select_pumps(sight);
  select_gas();
  set_power();
  commands_.speed_rad_s = or_zero(step.rotation);
  if (!opened_ && sight.power_share > 0.98 && (sight.speed_share > 0.99 || commands_.speed_rad_s == 0)) {
    opened_ = true;
    opened_rad_ = sight.drive_rad;
    opened_j_ = sight.energy_j;
    opened_s_ = sight.step_s;
  }
  std::string reason;
  if (opened_ && !closing_ && (reached(sight, reason) || sight.step_s >= step.longest.value.value() - 3)) {
    closing_ = true;
    closing_why_ = reached(sight, reason) ? reason : "longest time";
  }
  commands_.open = opened_ && !closing_;
  const bool ended = closing_ && sight.open <= 0;
  if (ended) {
    why = closing_why_;
    const bool more = step_ + 1 < plan_->recipe.steps.size() && lays_film(plan_->recipe.steps[step_ + 1]);
    commands_.power_w = more ? commands_.power_w : 0;
  }
  return ended;
}

bool Control::hold(const Sight& sight, std::string& why) {
  commands_ = Commands{.flow_mol_s = std::vector<double>(plan_->chamber.gas_lines.size(), 0)};
  select_gas();
  if (current().kind == plan::StepKind::hold) {
    select_pumps(sight);
  }
  return reached(sight, why);
}

bool Control::vent(const Sight& sight, std::string& why) {
  commands_ = Commands{.flow_mol_s = std::vector<double>(plan_->chamber.gas_lines.size(), 0)};
  on_high_vacuum_ = false;
  commands_.vent = sight.step_s > 60;  // valves shut and checked first
  if (current().end.kind != plan::EndKind::pressure) {
    return reached(sight, why);
  }
  why = "pressure";
  return sight.atmosphere;
}

}  // namespace vacuary::rehearse
