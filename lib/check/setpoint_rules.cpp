// Setpoints inside the range of the thing that makes them and of a gauge that can see them.
#include <algorithm>

#include "check/rule.hpp"
#include "check/words.hpp"

namespace vacuary::check {
namespace {

// The finding for a setpoint above what its device can give; null when it is not.
template <class Q>
Diagnostic* above_maximum(Findings& out, const plan::Step& step, const std::string& device,
                          const plan::Given<Q>& wanted, const plan::Given<Q>& most) {
  if (wanted.value <= most.value) return nullptr;
  const std::string most_text = words(most.value, wanted.unit);
  Diagnostic& d = out.add(wanted.at, fmt::format("'{}' asks for {}, but '{}' gives at most {}",
                                                 step.name.value, words(wanted), device, most_text));
  d.found = words(wanted);
  d.bound = "at most " + most_text;
  d.second = second_place(most.at, fmt::format("what '{}' can give", device));
  return &d;
}

const plan::Cathode* cathode_of(const Facts& facts, const plan::Step& step) {
  return step.cathode ? plan::cathode(facts.plan.chamber, step.cathode->value) : nullptr;
}

// The supply a step runs on: that of its cathode, or of the glow electrode in a plasma clean.
const plan::Supply* supply_of(const Facts& facts, const plan::Step& step) {
  const plan::Chamber& chamber = facts.plan.chamber;
  if (const plan::Cathode* cathode = cathode_of(facts, step))
    return plan::supply(chamber, cathode->supply.value);
  if (step.kind != plan::StepKind::plasma_clean || !chamber.glow) return nullptr;
  return plan::supply(chamber, chamber.glow->supply.value);
}

void power_out_of_range(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const plan::Supply* supply = supply_of(facts, step);
    if (supply == nullptr) continue;
    if (step.power) {
      Diagnostic* d = above_maximum(out, step, supply->name.value, *step.power, supply->power_max);
      if (d != nullptr) {
        d->remedy = fmt::format("lower the power to at most {}",
                                at_most_words(supply->power_max.value, step.power->unit));
      }
    } else if (step.voltage && step.current) {
      const Power power = step.voltage->value * step.current->value;
      if (power <= supply->power_max.value) continue;
      const Unit& unit = supply->power_max.unit;
      Diagnostic& d =
          out.add(step.current->at,
                  fmt::format("'{}' asks for {} at {}, more power than '{}' can give", step.name.value,
                              words(*step.current), words(*step.voltage), supply->name.value));
      d.found = words(power, unit);
      d.bound = "at most " + words(supply->power_max);
      d.remedy = fmt::format(
          "lower the current to at most {}",
          at_most_words(Current(supply->power_max.value / step.voltage->value), step.current->unit));
      d.second = second_place(supply->power_max.at, fmt::format("what '{}' can give", supply->name.value));
    }
  }
}

void voltage_out_of_range(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const plan::Supply* supply = supply_of(facts, step);
    if (supply == nullptr || !step.voltage) continue;
    Diagnostic* d = above_maximum(out, step, supply->name.value, *step.voltage, supply->voltage_max);
    if (d != nullptr) {
      d->remedy = fmt::format("lower the voltage to at most {}",
                              at_most_words(supply->voltage_max.value, step.voltage->unit));
    }
  }
}

void current_out_of_range(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const plan::Supply* supply = supply_of(facts, step);
    if (supply == nullptr) continue;
    if (step.current) {
      Diagnostic* d = above_maximum(out, step, supply->name.value, *step.current, supply->current_max);
      if (d != nullptr) {
        d->remedy = fmt::format("lower the current to at most {}",
                                at_most_words(supply->current_max.value, step.current->unit));
      }
    }
    const plan::Cathode* cathode = cathode_of(facts, step);
    if (cathode == nullptr || !step.power) continue;
    // The voltage is the discharge's own: it is known only as that of the calibration, give or take its band.
    const plan::Calibration& calibration = cathode->calibration;
    const Current current = step.power->value / calibration.voltage.value;
    const double spread = calibration.voltage_band.value / calibration.voltage.value;
    const Standing standing =
        against_at_most(current.value(), current.value() * spread, supply->current_max.value.value());
    if (standing == Standing::within) continue;
    const Unit& unit = supply->current_max.unit;
    Diagnostic& d =
        out.add(standing == Standing::beyond ? Severity::error : Severity::warning, step.power->at,
                fmt::format("'{}' {} more current than '{}' can give", step.name.value,
                            standing == Standing::beyond ? "will draw" : "may draw", supply->name.value));
    d.found = with_uncertainty(current, Current(current * spread), unit);
    d.bound = "at most " + words(supply->current_max);
    d.assumed.push_back(fmt::format("the voltage of the calibration, {} +/- {}", words(calibration.voltage),
                                    words(calibration.voltage_band)));
    const Voltage lowest = calibration.voltage.value - calibration.voltage_band.value;
    d.remedy = fmt::format("lower the power to at most {}",
                           at_most_words(Power(supply->current_max.value * lowest), step.power->unit));
    d.second = second_place(supply->current_max.at, fmt::format("what '{}' can give", supply->name.value));
  }
}

void ramp_too_fast(const Facts& facts, Findings& out) {
  for (const plan::Step& step : facts.steps()) {
    const plan::Supply* supply = supply_of(facts, step);
    if (supply == nullptr || !supply->ramp_max || !step.power || !step.ramp) continue;
    const plan::Given<PowerRamp>& most = *supply->ramp_max;
    const Duration shortest = step.power->value / most.value;
    if (step.ramp->value.value() >= shortest.value() * (1 - 1e-9)) continue;
    const bool at_once = step.ramp->value.value() <= 0;
    Diagnostic& d = out.add(step.ramp->at, fmt::format("'{}' brings up the power faster than '{}' can",
                                                       step.name.value, supply->name.value));
    d.found = at_once ? fmt::format("{} at once", words(*step.power))
                      : words(PowerRamp(step.power->value / step.ramp->value), most.unit);
    d.bound = "at most " + words(most);
    d.remedy = fmt::format("let the ramp take at least {}", at_least_words(shortest, step.ramp->unit));
    d.second = second_place(most.at, fmt::format("what '{}' can do", supply->name.value));
  }
}

void flow_out_of_range(const Facts& facts, Findings& out) {
  const GasReference& reference = facts.plan.chamber.reference;
  for (const plan::Step& step : facts.steps()) {
    for (const plan::GasFlow& gas : step.gas) {
      const plan::GasLine* line = plan::gas_line(facts.plan.chamber, gas.line.value);
      if (line == nullptr) continue;
      const MolarFlow full = line->full_scale.value.resolve(reference);
      if (gas.flow.value.value() <= full.value() * (1 + 1e-9)) continue;
      const Unit& unit = gas.flow.unit;
      const std::string asked = flow_words(gas.flow.value, unit, reference);
      const std::string most = flow_words(full, unit, reference);
      Diagnostic& d = out.add(gas.flow.at, fmt::format("'{}' asks for {}, but gas line '{}' gives at most {}",
                                                       step.name.value, asked, line->name.value, most));
      d.found = asked;
      d.bound = "at most " + most;
      d.remedy =
          fmt::format("lower the flow to at most {}, or throttle the pumps for the same pressure", most);
      d.second = second_place(line->full_scale.at, fmt::format("full scale of '{}'", line->name.value));
    }
  }
}

// A flow controller's error is a share of its full scale, so a small flow is badly known. Above
// this share of the flow itself, at coverage 2, the flow can no longer be called controlled.
constexpr double largest_flow_uncertainty = 0.2;

void flow_too_small(const Facts& facts, Findings& out) {
  const GasReference& reference = facts.plan.chamber.reference;
  for (const plan::Step& step : facts.steps()) {
    for (const plan::GasFlow& gas : step.gas) {
      const plan::GasLine* line = plan::gas_line(facts.plan.chamber, gas.line.value);
      const double flow_mol_per_s = gas.flow.value.value();
      if (line == nullptr || flow_mol_per_s <= 0) continue;
      const MolarFlow full = line->full_scale.value.resolve(reference);
      const double error_mol_per_s = coverage * line->accuracy.value.value() * full.value();
      const double least_mol_per_s = error_mol_per_s / largest_flow_uncertainty;
      if (flow_mol_per_s >= least_mol_per_s * (1 - 1e-9)) continue;
      const Unit& unit = gas.flow.unit;
      Diagnostic& d = out.add(
          gas.flow.at, fmt::format("gas line '{}' cannot hold so small a flow: its error is {} % of it",
                                   line->name.value, number(100 * error_mol_per_s / flow_mol_per_s, 2)));
      d.found = fmt::format("{} +/- {}", flow_words(gas.flow.value, unit, reference),
                            flow_words(MolarFlow::from_value(error_mol_per_s), unit, reference, 2));
      d.bound = fmt::format("known to {} % or better", number(100 * largest_flow_uncertainty, 2));
      d.remedy = fmt::format(
          "ask for at least {}, or fit a controller of smaller full scale",
          with_unit(rounded_up(flow_in(MolarFlow::from_value(least_mol_per_s), unit, reference)), unit, 3));
      d.second = second_place(line->full_scale.at, fmt::format("full scale of '{}'", line->name.value));
    }
  }
}

void rotation_out_of_range(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    if (!step.rotation || !chamber.rotation_min || !chamber.rotation_max) continue;
    const Unit& unit = step.rotation->unit;
    const double speed = step.rotation->value.value();
    const bool fast = speed > chamber.rotation_max->value.value() * (1 + 1e-9);
    const bool slow = speed < chamber.rotation_min->value.value() * (1 - 1e-9);
    if (!fast && !slow) continue;
    const plan::Given<AngularSpeed>& bound = fast ? *chamber.rotation_max : *chamber.rotation_min;
    Diagnostic& d = out.add(step.rotation->at, fmt::format("'{}' turns the optic {} than this chamber can",
                                                           step.name.value, fast ? "faster" : "slower"));
    d.found = words(*step.rotation);
    d.bound = fmt::format("{} to {}", words(chamber.rotation_min->value, unit),
                          words(chamber.rotation_max->value, unit));
    d.remedy = fmt::format("{} the rotation to {} {}", fast ? "lower" : "raise",
                           fast ? "at most" : "at least", words(bound.value, unit));
    d.second = second_place(bound.at, fmt::format("the {} this chamber turns", fast ? "fastest" : "slowest"));
  }
}

// True when the gauge's display stays on its scale at this true pressure.
bool sees(const plan::Gauge& gauge, Pressure pressure, const std::string& gas) {
  const double reading_pa = pressure.value() * sensitivity(gauge, gas);
  if (gauge.off_above && pressure > gauge.off_above->value) return false;
  return reading_pa >= gauge.low.value.value() * (1 - 1e-9) &&
         reading_pa <= gauge.high.value.value() * (1 + 1e-9);
}

std::string gauge_ranges(const plan::Chamber& chamber, const std::string& gas, const Unit& unit) {
  std::string text;
  for (const plan::Gauge& gauge : chamber.gauges) {
    const double factor = sensitivity(gauge, gas);
    Pressure high = gauge.high.value / factor;
    if (gauge.off_above && gauge.off_above->value < high) high = gauge.off_above->value;
    text +=
        fmt::format("{}{} {} to {}", text.empty() ? "" : ", ", gauge.name.value,
                    number(in<Pressure>(Pressure(gauge.low.value / factor), unit), 3), words(high, unit, 3));
  }
  return text.empty() ? "no gauges" : text;
}

void pressure_unseen(const Facts& facts, Findings& out) {
  const plan::Chamber& chamber = facts.plan.chamber;
  for (const plan::Step& step : facts.steps()) {
    const auto look_at = [&](const plan::Maybe<Pressure>& wanted, const char* verb) {
      if (!wanted || chamber.gauges.empty()) return;  // a file that states no gauges claims nothing
      const std::string gas = main_gas(chamber, step, wanted->value);
      const auto seen = [&](const plan::Gauge& gauge) { return sees(gauge, wanted->value, gas); };
      if (std::any_of(chamber.gauges.begin(), chamber.gauges.end(), seen)) return;
      Diagnostic& d = out.add(wanted->at, fmt::format("no gauge of this chamber can see the {} that '{}' {}",
                                                      words(*wanted), step.name.value, verb));
      d.found = words(*wanted);
      d.bound = fmt::format("gauges for {}: {}", gas, gauge_ranges(chamber, gas, wanted->unit));
      d.remedy = "choose a pressure that a gauge reads, or add the gauge that reads it to the chamber file";
    };
    look_at(step.pressure, "works at");
    look_at(step.end.pressure, "waits for");
  }
}

}  // namespace

std::vector<RuleEntry> setpoint_rules() {
  return {
      {{"power-out-of-range", Severity::error, "more power than the supply can give",
        "The step's power (in a plasma clean, voltage times current) is above the greatest power of the "
        "supply that feeds the cathode or glow electrode. The supply would limit itself, the step would "
        "run at less power than the recipe says, and the film would be thin. Mend: less power for longer."},
       power_out_of_range},
      {{"voltage-out-of-range", Severity::error, "more voltage than the supply can give",
        "The step's voltage is above the greatest voltage of the supply of the glow electrode."},
       voltage_out_of_range},
      {{"current-out-of-range", Severity::error, "more current than the supply can give",
        "The step's current is above the greatest current of its supply. A sputter step states its power; "
        "its current is that power over the discharge voltage, which is taken from the cathode's "
        "calibration with its band, so a current near the bound is a warning only."},
       current_out_of_range},
      {{"ramp-too-fast", Severity::error, "the power is to come up faster than the supply allows",
        "Power over ramp time is above the supply's greatest ramp. The supply would take longer, and the "
        "energy of the step would fall short of the plan."},
       ramp_too_fast},
      {{"flow-out-of-range", Severity::error, "more gas than the flow controller can give",
        "The flow is above the full scale of its gas line. Both are compared as amounts per time, so that "
        "sccm and mbar L/s are never taken for each other."},
       flow_out_of_range},
      {{"flow-too-small", Severity::warning, "a flow too small for its controller",
        "The accuracy of a flow controller is a share of its full scale. When twice that error is above "
        "20 % of the flow itself the flow is hardly controlled and the pressure drifts with it. The bound "
        "of 20 % is common practice."},
       flow_too_small},
      {{"rotation-out-of-range", Severity::error, "a rotation speed the chamber does not have",
        "The step's rotation is outside the range in the chamber file. A drive below its range stalls and "
        "jerks; a stalled optic grows a heap of film under the beam."},
       rotation_out_of_range},
      {{"pressure-unseen", Severity::error, "a pressure that no gauge can read",
        "The pressure a step works at or waits for is outside the range of every gauge. Gauges that read "
        "nitrogen-equivalent are taken with their factor for the gas that is there: that of the largest "
        "flow, water in a pumpdown below 0.1 Pa, air above. A gauge that must be off above a pressure "
        "does not count there. A step that waits for such a pressure would never end."},
       pressure_unseen},
  };
}

}  // namespace vacuary::check
