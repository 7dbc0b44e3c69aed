#include "model/chamber_state.hpp"

#include <algorithm>
#include <cmath>

#include "model/model.hpp"

namespace vacuary::model {
namespace {

// A pump that does not take a gas at all still must not make an equation divide by zero.
constexpr double least_speed_m3_per_s = 1e-9;

const plan::SpeciesSpeed* listed(const plan::Pump& pump, const std::string& gas) {
  for (const plan::SpeciesSpeed& row : pump.speeds) {
    if (row.gas.value == gas) return &row;
  }
  return nullptr;
}

PumpingSpeed at_least(PumpingSpeed speed, double factor) {
  return PumpingSpeed::from_value(std::max(speed.value() * factor, least_speed_m3_per_s));
}

physics::PumpingStage stage_of(const plan::Chamber& chamber, const plan::Pump& pump, double factor) {
  physics::PumpingStage stage;
  if (pump.ultimate) stage.ultimate = pump.ultimate->value;
  if (pump.kind == plan::PumpKind::roughing) {
    for (const plan::SpeedStage& row : pump.stages) {
      const PumpingSpeed s = at_least(row.speed.value, factor * pump.number.value.value());
      stage.rows.push_back({row.below.value, s, s, s});
    }
  } else {
    stage.rows.push_back({Pressure::from_value(1e9), at_least(pump_speed(chamber, pump, "air"), factor),
                          at_least(pump_speed(chamber, pump, "H2O"), factor),
                          at_least(pump_speed(chamber, pump, "Ar"), factor)});
  }
  if (stage.rows.empty()) {
    const PumpingSpeed none = PumpingSpeed::from_value(least_speed_m3_per_s);
    stage.rows.push_back({Pressure::from_value(1e9), none, none, none});
  }
  return stage;
}

PumpingSpeed speed_at(const plan::Chamber& chamber, const plan::Pump& pump, const std::string& gas,
                      Pressure pressure) {
  return pump.kind == plan::PumpKind::roughing ? table_speed(pump, pressure) : pump_speed(chamber, pump, gas);
}

}  // namespace

std::vector<physics::OutgassingWall> walls(const plan::Chamber& chamber, double factor) {
  std::vector<physics::OutgassingWall> result;
  for (const plan::Surface& s : chamber.surfaces) {
    result.push_back({s.area.value, s.outgassing_1h.value * factor, s.exponent.value});
  }
  return result;
}

PumpingSpeed pump_speed(const plan::Chamber& chamber, const plan::Pump& pump, const std::string& gas) {
  std::string wanted = gas;
  const plan::SpeciesSpeed* row = listed(pump, wanted);
  if (row == nullptr) row = listed(pump, wanted = "N2");
  if (row == nullptr && !pump.speeds.empty()) row = &pump.speeds.front();
  if (row == nullptr) return PumpingSpeed{};
  PumpingSpeed each = row->speed.value;
  if (pump.valve_bore) {
    const physics::Gas* known = physics::find_gas(wanted);
    const double transmission = pump.valve_transmission ? pump.valve_transmission->value.value() : 1.0;
    const PumpingSpeed valve =
        transmission * physics::aperture_conductance(known != nullptr ? *known : *physics::find_gas("N2"),
                                                     chamber.gas_temperature.value, pump.valve_bore->value);
    each = physics::in_series({each, valve});
  }
  return pump.number.value.value() * each;
}

PumpingSpeed table_speed(const plan::Pump& pump, Pressure pressure) {
  if (pump.stages.empty()) return PumpingSpeed{};
  const plan::SpeedStage* in_force = &pump.stages.front();
  for (const plan::SpeedStage& row : pump.stages) {
    if (pressure <= row.below.value) in_force = &row;
  }
  return pump.number.value.value() * in_force->speed.value;
}

PumpingSpeed high_vacuum_speed(const plan::Chamber& chamber, const std::string& gas) {
  PumpingSpeed sum;
  for (const plan::Pump& pump : chamber.pumps) {
    if (pump.kind != plan::PumpKind::roughing) sum += pump_speed(chamber, pump, gas);
  }
  return sum;
}

PumpingSpeed roughing_speed(const plan::Chamber& chamber, Pressure pressure) {
  PumpingSpeed sum;
  for (const plan::Pump& pump : chamber.pumps) {
    if (pump.kind == plan::PumpKind::roughing) sum += table_speed(pump, pressure);
  }
  return sum;
}

MolarFlow outgassing(const plan::Chamber& chamber, Duration pumped) {
  return physics::outgassing(walls(chamber), pumped);
}

std::vector<const plan::Pump*> pumps_of(const plan::Chamber& chamber, const plan::Step& step) {
  std::vector<const plan::Pump*> result;
  for (const plan::GivenText& pump_name : step.pumps) {
    if (const plan::Pump* pump = named(chamber.pumps, pump_name.value)) result.push_back(pump);
  }
  if (!result.empty()) return result;
  for (const plan::Pump& pump : chamber.pumps) result.push_back(&pump);
  std::stable_partition(result.begin(), result.end(),
                        [](const plan::Pump* p) { return p->kind == plan::PumpKind::roughing; });
  return result;
}

std::vector<physics::PumpingStage> stages(const plan::Chamber& chamber,
                                          const std::vector<const plan::Pump*>& pumps, double factor) {
  std::vector<physics::PumpingStage> result;
  for (std::size_t i = 0; i < pumps.size(); ++i) {
    result.push_back(stage_of(chamber, *pumps[i], factor));
    if (i + 1 < pumps.size() && pumps[i + 1]->crossover_max) {
      result.back().until = pumps[i + 1]->crossover_max->value;
    }
  }
  return result;
}

std::optional<WorkingGas> working_gas(const plan::Chamber& chamber, const plan::Step& step) {
  const std::vector<const plan::Pump*> pumps = pumps_of(chamber, step);
  if (step.gas.empty() || pumps.empty()) return std::nullopt;
  const plan::Pump& pump = *pumps.back();
  const double throttle = step.throttle ? step.throttle->value.value() : 1.0;
  WorkingGas result;
  Pressure guess = step.pressure ? step.pressure->value : Pressure::from_value(1);
  // A roughing pump's speed depends on the pressure it makes: a few rounds settle on one row.
  for (int round = 0; round < 8; ++round) {
    result = WorkingGas{};
    if (pump.ultimate) result.p.air = result.ultimate = pump.ultimate->value;
    double variance = 0, sum = 0;
    for (const plan::GasFlow& flow : step.gas) {
      const plan::GasLine* line = named(chamber.gas_lines, flow.line.value);
      if (line == nullptr) continue;
      const PumpingSpeed speed = at_least(speed_at(chamber, pump, line->gas.value, guess), throttle);
      const Pressure part = physics::flow_pressure(flow.flow.value, speed, chamber.gas_temperature.value);
      (line->gas.value == "Ar" ? result.p.argon : result.p.air) += part;
      const double full = line->full_scale.value.resolve(chamber.reference).value();
      const double u =
          line->accuracy.value.value() * full / std::max(flow.flow.value.value(), 1e-30) * part.value();
      variance += u * u;
      sum += part.value();
    }
    if (sum <= 0) return std::nullopt;
    result.flow_uncertainty = std::sqrt(variance) / sum;
    guess = result.p.total();
  }
  return result;
}

std::optional<Estimate<Pressure>> working_pressure(const plan::Chamber& chamber, const plan::Step& step) {
  const std::optional<WorkingGas> gas = working_gas(chamber, step);
  if (!gas) return std::nullopt;
  const Pressure p = gas->p.total();
  return Estimate<Pressure>{p, p * std::hypot(speed_uncertainty, gas->flow_uncertainty)};
}

std::optional<GaugeUncertainty> gauge_uncertainty(const plan::Chamber& chamber, Pressure pressure) {
  std::optional<GaugeUncertainty> best;
  for (const plan::Gauge& gauge : chamber.gauges) {
    if (pressure < gauge.low.value || pressure > gauge.high.value) continue;
    const double zero = gauge.zero_drift ? gauge.zero_drift->value.value() / pressure.value() : 0.0;
    const double u = std::hypot(gauge.accuracy.value.value(), zero);
    if (!best || u < best->relative.value()) best = GaugeUncertainty{gauge.name.value, Ratio::of(u)};
  }
  return best;
}

}  // namespace vacuary::model
